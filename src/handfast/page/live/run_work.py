"""Builds in the simulated cell, for the operator's view: told line by line, stopped by SIGTERM.

Started as `python -m handfast.page.live.run_work FOLDER OUT SEED WHAT`. It moves nothing but numbers. WHAT is
JSON: {} runs the chart from its start; {"list": N} tells what must be where before element N; {"from": N,
"looked": [items]} goes on with element N. Logs are kept in OUT for going on; a record is written by
`handfast run` alone.
"""

from __future__ import annotations

import json
import shutil
import signal
import sys
import threading
from dataclasses import asdict
from pathlib import Path
from typing import Any, NamedTuple, cast

from handfast.checking.checked_project import CheckedProject
from handfast.execution.cell import Cell, CellError
from handfast.files.errors import RecordError
from handfast.files.record_json import RECORDS_FOLDER, load, sha256
from handfast.files.run_log_file import ReadLog
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.record import Record
from handfast.model.run_log import LogLine, RunLog
from handfast.page.live.current import look, newest
from handfast.page.live.following import LOG, PLAYED, going
from handfast.page.live.lines import line
from handfast.page.live.told_cell import ToldCell
from handfast.page.live.work import RECORDS
from handfast.page.saved import gather
from handfast.workflow.inputs import changed_files


class NotYetError(RuntimeError):
    """It cannot be run; the message says what is missing."""


class Ready(NamedTuple):
    """What a run needs. out: where the logs of this page's build lie, "build-1.jsonl" and so on."""

    folder: Path
    out: Path
    checked: CheckedProject
    chart: Record[Chart]
    ledger: Record[Ledger]


def main(folder: Path, out: Path, seed: int, what: dict[str, Any], stop: threading.Event) -> None:
    """Do it, or say why not."""
    ready = _ready(folder, out)
    if "list" in what:
        line(must_be=must_be(ready, int(what["list"]), seed))
    elif "from" in what:
        _ended(_on(ready, int(what["from"]), [str(x) for x in what["looked"]], seed, stop))
    else:
        _ended(_whole(ready, seed, stop))


def must_be(ready: Ready, number: int, seed: int) -> list[dict[str, Any]]:
    """Every part and tool, where it should be before element `number`, and whether it is."""
    from handfast.workflow.resume_run import what_must_be

    return [asdict(x) for x in what_must_be(ready.checked, ready.chart, _middle(ready, number, seed), number)]


def say(state: str, time_s: float, text: str) -> None:
    """One line for the page."""
    line(state=state, time=time_s, text=text)


def tell(one: LogLine) -> None:
    """What was measured, and which element has ended."""
    if one.event in PLAYED:
        line(**going(one))


def _ready(folder: Path, out: Path) -> Ready:
    looked = look(folder, out / RECORDS)
    if looked.checked is None:
        raise NotYetError("the project files have mistakes: see Why")
    project = looked.checked.project
    chart = newest(project, "chart", Chart, looked.homes)
    if chart is None or changed_files(project, chart):
        raise NotYetError("there is no chart of the files as they are")
    if gather(project, chart, *looked.homes)[0].ledger is None:
        raise NotYetError("there is no ledger of this chart: budget it first")
    ledgers = [load(h / "ledger.json", Ledger) for h in looked.homes if (h / "ledger.json").exists()]
    ledger = next(x for x in ledgers if x.body.chart_sha256 == sha256(chart))
    return Ready(folder, out, looked.checked, chart, ledger)


def _whole(ready: Ready, seed: int, stop: threading.Event) -> RunLog:
    from handfast.workflow.run_chart import run, simulated_cell

    _forget(ready)
    cell = _told(simulated_cell(ready.checked, ready.chart, seed=seed), ready, stop)
    return run(
        ready.checked, ready.chart, ready.ledger, cell, log=ready.out / "build-1.jsonl", told=tell
    ).body


def _on(ready: Ready, number: int, seen: list[str], seed: int, stop: threading.Event) -> RunLog:
    from handfast.workflow.resume_run import not_right, run_from, what_must_be

    middle = _middle(ready, number, seed)
    wrong = not_right(what_must_be(ready.checked, ready.chart, middle, number), seen)
    if wrong:
        raise NotYetError(f"nothing has moved; {wrong}")
    logs = _logs(ready)
    path = ready.out / f"build-{len(_kept(ready)) + 1}.jsonl"
    return run_from(ready.checked, ready.chart, ready.ledger, _told(middle, ready, stop), number,
                    earlier=_lines(logs), log=path, told=tell, seed=seed).body  # fmt: skip


def _middle(ready: Ready, number: int, seed: int) -> Cell:
    """A simulated cell does not outlive its run: everything is put where it has to be, arms where they
    stopped."""
    from handfast.workflow.resume_run import stopped_at
    from handfast.workflow.simulated_middle import simulated_middle

    stood = stopped_at(ready.checked, _lines(_logs(ready)))
    return simulated_middle(ready.checked, ready.chart, number, stood, seed)


def _logs(ready: Ready) -> list[ReadLog]:
    """Of the build that was run last, here or in a terminal, in as many parts as it was run."""
    from handfast.workflow.resume_run import log_of

    own, there = _kept(ready), ready.folder / RECORDS_FOLDER / LOG
    if there.exists() and (not own or there.stat().st_mtime_ns > own[-1].stat().st_mtime_ns):
        _forget(ready)
        own = [Path(shutil.copy2(there, ready.out / "build-1.jsonl"))]
    return [log for log in (log_of(path, ready.chart) for path in own) if log is not None]


def _kept(ready: Ready) -> list[Path]:
    return sorted(ready.out.glob("build-*.jsonl"), key=lambda p: p.stat().st_mtime_ns)


def _forget(ready: Ready) -> None:
    for old in _kept(ready):
        old.unlink()


def _lines(logs: list[ReadLog]) -> tuple[LogLine, ...]:
    return tuple(x for log in logs for x in log.log.lines)


def _told(cell: Cell, ready: Ready, stop: threading.Event) -> Cell:
    return cast(Cell, ToldCell(cell, ready.chart.body, lambda t, x: say("going", t, x), stop))


def _ended(log: RunLog) -> None:
    end = log.lines[-1].time_s if log.lines else 0.0
    done = log.ended == "done"
    say(
        "done" if done else "stopped",
        end,
        f"done, {end:.2f} s by the cell's own clock" if done else log.reason,
    )


def _refusals() -> tuple[type[Exception], ...]:
    from handfast.planning.resumed import NoWayError
    from handfast.workflow.not_proven import NotProvenError

    return NotYetError, NoWayError, NotProvenError, RecordError, CellError, OSError


def run_words(words: list[str]) -> None:
    """What stands in the way of a build is told on the page, not traced."""
    stop = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: stop.set())
    try:
        main(Path(words[0]), Path(words[1]), int(words[2]), json.loads(words[3]), stop)
    except KeyError as error:
        say("failed", 0.0, str(error.args[0]))
    except _refusals() as error:
        say("failed", 0.0, str(error))


if __name__ == "__main__":
    run_words(sys.argv[1:])
