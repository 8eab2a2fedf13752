"""handfast run."""

from __future__ import annotations

import time
from dataclasses import asdict
from pathlib import Path

from handfast.checking.checked_project import CheckedProject
from handfast.cli.exit_codes import NO, YES, UnusableError
from handfast.cli.open_project import open_project
from handfast.cli.run_lines import tell_end, tell_line
from handfast.cli.saved_records import keep, maybe, must_be_of, need, record_path
from handfast.cli.screen import say, say_json
from handfast.execution.cell import Cell, CellError
from handfast.execution.tcp_cell import TcpCell
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.proof import Proof
from handfast.model.record import Record
from handfast.workflow.run_chart import must_hold, run, simulated_cell

CELLS = "simulated, tcp://HOST:PORT"


def do_run(folder: str, cell: str, seed: int, as_json: bool, log: str | None = None) -> int:
    """Run the chart once. Yes: it came to its end; no: it stopped."""
    must_be_known(cell)
    checked = open_project(folder)
    chart = need(folder, "chart", Chart)
    must_be_of(checked.project, chart, folder)
    ledger = need(folder, "ledger", Ledger)
    proof = proven(checked, chart, folder)
    path = Path(log) if log is not None else record_path(folder, "run-log").with_suffix(".jsonl")
    started = time.perf_counter()
    try:
        found = run(
            checked, chart, ledger, open_cell(checked, chart, cell, seed), proof=proof, log=path,
            told=None if as_json else tell_line,
        )  # fmt: skip
    except OSError as error:
        raise UnusableError(f"{path}: cannot be written: {error.strerror}") from error
    run_info = {"running_s": round(time.perf_counter() - started, 3)}
    digest, wrote = keep(folder, "run-log", found, run_info)
    if as_json:
        say_json(
            "run", {**asdict(found.body), "log": str(path), "run_log_sha256": digest, "run_info": run_info}
        )
    else:
        tell_end(found.body)
        say(f"wrote {path}")
        say(wrote)
    return YES if found.body.ended == "done" else NO


def proven(checked: CheckedProject, chart: Record[Chart], folder: str) -> Record[Proof]:
    """The saved proof of this chart, or a new one, saved. Raises NotProvenError if it does not hold."""
    saved = maybe(folder, "proof", Proof)
    proof = must_hold(checked.project, chart, saved)
    if proof is not saved:
        keep(folder, "proof", proof, {})
    return proof


def must_be_known(name: str) -> None:
    """Raises UnusableError for a kind of cell that there is not."""
    if name != "simulated" and not name.startswith("tcp://"):
        raise UnusableError(f"--cell {name}: expected one of: {CELLS}")


def open_cell(checked: CheckedProject, chart: Record[Chart], name: str, seed: int) -> Cell:
    """The cell of that name. Raises UnusableError if it cannot be reached."""
    return simulated_cell(checked, chart, seed=seed) if name == "simulated" else real_cell(name)


def real_cell(name: str) -> Cell:
    """The cell behind a port. Raises UnusableError if it cannot be reached."""
    try:
        return TcpCell(name)
    except CellError as error:
        raise UnusableError(f"--cell {error}") from error
