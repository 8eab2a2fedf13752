"""handfast run --from, handfast undo."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

from handfast.checking.checked_project import CheckedProject
from handfast.cli.do_run import must_be_known, open_cell
from handfast.cli.exit_codes import NO, YES, UnusableError
from handfast.cli.open_project import open_project
from handfast.cli.run_lines import tell_end, tell_line
from handfast.cli.saved_records import keep, must_be_of, need, record_path
from handfast.cli.screen import say, say_json
from handfast.execution.cell import Cell
from handfast.execution.expected import Looked
from handfast.files.run_log_file import ReadLog, read_run_log
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.record import Record
from handfast.model.run_log import LogLine
from handfast.planning.resumed import StandsClearError
from handfast.workflow.resume_run import (
    failed_at,
    log_of,
    not_right,
    run_from,
    stopped_at,
    undo,
    what_must_be,
)
from handfast.workflow.simulated_middle import simulated_middle


def do_run_from(
    folder: str, number: int, cell: str, seed: int, as_json: bool, log: str | None, seen: bool
) -> int:
    """List what must be where, look at it, plan and prove the way in, and go on. No: something is not where
    it must be, or the run stopped."""
    checked, chart, ledger = _records(folder, cell)
    earlier = tuple(line for log in _logs(folder, chart) for line in log.log.lines)
    opened = _cell(checked, chart, cell, number, earlier, seed)
    found = what_must_be(checked, chart, opened, number)
    if not as_json:
        _tell_list(found, number)
    fix = not_right(found, [f.item for f in found] if seen else ())
    if fix:
        fix += ", then add --looked" if fix.startswith("look at") else ""
        if as_json:
            say_json("run", {"ended": "not begun", "must_be": [asdict(f) for f in found], "reason": fix})
        else:
            say(f"nothing has moved; {fix}")
        return NO
    path = (
        Path(log) if log is not None else record_path(folder, f"run-log-from-{number}").with_suffix(".jsonl")
    )
    record = run_from(checked, chart, ledger, opened, number, earlier=earlier, log=path,
                      told=None if as_json else tell_line, seed=seed)  # fmt: skip
    digest, wrote = keep(folder, f"run-log-from-{number}", record, {})
    if as_json:
        said = {"must_be": [asdict(f) for f in found], "log": str(path), "run_log_sha256": digest}
        say_json("run", {**asdict(record.body), **said})
    else:
        tell_end(record.body)
        say(f"wrote {path}")
        say(wrote)
    return YES if record.body.ended == "done" else NO


def do_undo(folder: str, cell: str, seed: int, log: str | None, as_json: bool) -> int:
    """Lead the hand out of the element at which the last run stopped. No: it stopped again."""
    checked, chart, _ = _records(folder, cell)
    parts = _logs(folder, chart)
    last = read_run_log(log) if log is not None else (parts[-1] if parts else None)
    if last is None:
        where = record_path(folder, "run-log").with_suffix(".jsonl")
        raise UnusableError(f"{where}: expected the log of a run of this chart; name one with --log")
    if last.log.ended == "done":
        raise UnusableError("the last run came to its end: there is nothing to undo")
    number = failed_at(chart.body, last.log.lines)
    opened = _cell(checked, chart, cell, number, last.log.lines, seed)
    path = record_path(folder, "undo-log").with_suffix(".jsonl")
    try:
        found, then = undo(checked, chart, opened, number, log=path, told=None if as_json else tell_line)
    except StandsClearError as clear:
        say_json("undo", {"ended": "done", "go_on_from": clear.number}) if as_json else say(str(clear))
        return YES
    if as_json:
        say_json("undo", {**asdict(found), "undone": number, "go_on_from": then, "log": str(path)})
        return YES if found.ended == "done" else NO
    tell_end(found)
    if found.ended == "done":
        say(f"element {number} is undone; go on with `handfast run {folder} --from {then}`")
    return YES if found.ended == "done" else NO


def _records(folder: str, cell: str) -> tuple[CheckedProject, Record[Chart], Record[Ledger]]:
    must_be_known(cell)
    checked = open_project(folder)
    chart = need(folder, "chart", Chart)
    must_be_of(checked.project, chart, folder)
    return checked, chart, need(folder, "ledger", Ledger)


def _logs(folder: str, chart: Record[Chart]) -> list[ReadLog]:
    """Of the last build from the start, if it was of this chart, in as many parts as it was run, the first
    one first."""
    whole = record_path(folder, "run-log").with_suffix(".jsonl")
    if not whole.exists():
        return []
    written = whole.stat().st_mtime_ns
    parts = [p for p in whole.parent.glob(f"{whole.stem}-from-*.jsonl") if p.stat().st_mtime_ns > written]
    paths = [whole, *sorted(parts, key=lambda p: p.stat().st_mtime_ns)]
    return [found for found in (log_of(p, chart) for p in paths) if found is not None]


def _cell(
    checked: CheckedProject, chart: Record[Chart], name: str, number: int, earlier: tuple[LogLine, ...],
    seed: int,
) -> Cell:  # fmt: skip
    """A simulated cell does not outlive its run: everything is put where it has to be, arms where they
    stopped."""
    if name != "simulated":
        return open_cell(checked, chart, name, seed)
    try:
        chart.body.element(number)
    except KeyError as error:
        raise UnusableError(f"--from {number}: {error.args[0]}") from error
    return simulated_middle(checked, chart, number, stopped_at(checked, earlier), seed)


def _tell_list(found: tuple[Looked, ...], number: int) -> None:
    words = {True: "ok", False: "WRONG", None: "not seen"}
    say(f"before element {number} must be:")
    for one in found:
        say(f"  {words[one.right]:>8}  {one.item}: {one.where} ({one.how})")
