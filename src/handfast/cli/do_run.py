"""handfast run."""

from __future__ import annotations

import time
from dataclasses import asdict

from handfast.cli.exit_codes import NO, YES, UnusableError
from handfast.cli.open_project import open_project
from handfast.cli.saved_records import keep, must_be_of, need
from handfast.cli.screen import say, say_json
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.run_log import LogLine, RunLog
from handfast.page.wording import seconds
from handfast.workflow.run_chart import run, simulated_cell

CELLS = ("simulated",)
# Starts, ends and plain widths are in the record; these are what a person follows.
SHOWN = ("contact", "insertion", "screw", "estimate", "correction", "stop")


def do_run(folder: str, cell: str, seed: int, as_json: bool) -> int:
    """Run the chart once. Yes: it came to its end; no: it stopped."""
    if cell not in CELLS:
        raise UnusableError(f"--cell {cell}: expected one of: {', '.join(CELLS)}")
    checked = open_project(folder)
    chart = need(folder, "chart", Chart)
    must_be_of(checked.project, chart, folder)
    ledger = need(folder, "ledger", Ledger)
    started = time.perf_counter()
    log = run(checked, chart, ledger, simulated_cell(checked, chart, seed=seed))
    run_info = {"running_s": round(time.perf_counter() - started, 3)}
    digest, wrote = keep(folder, "run-log", log, run_info)
    if as_json:
        say_json("run", {**asdict(log.body), "run_log_sha256": digest, "run_info": run_info})
    else:
        _tell(log.body)
        say(wrote)
    return YES if log.body.ended == "done" else NO


def _tell(log: RunLog) -> None:
    for line in log.lines:
        if line.event in SHOWN:
            say(f"{seconds(line.time_s):>7} s  {line.element}: {line.event} {_values(line)}")
    end = seconds(log.lines[-1].time_s) if log.lines else "0.00"
    say(f"{log.ended} after {end} s in the {log.cell} cell" + (f": {log.reason}" if log.reason else ""))


def _values(line: LogLine) -> str:
    """Values in SI, as logged."""
    parts = [f"{name} {value:.6g}" for name, value in line.values]
    return ", ".join([line.text, *parts] if line.text else parts)
