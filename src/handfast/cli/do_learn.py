"""handfast learn."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

from handfast.cli.exit_codes import NO, YES, UnusableError
from handfast.cli.invalidated_text import invalidated_json, tell_invalidated
from handfast.cli.open_project import open_project
from handfast.cli.saved_records import keep, maybe, must_be_of, need
from handfast.cli.screen import say, say_json
from handfast.files.base_text import shown
from handfast.files.errors_diff import diff
from handfast.files.run_log_file import read_run_log
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.source_proposal import BaseMove, Offset, SourceProposal, SourceProposals
from handfast.workflow.guided import GUIDED
from handfast.workflow.learn_sources import learn, proposed_cell, proposed_errors

FREEDOMS = ("x", "y", "z", "rx", "ry", "rz")


def do_learn(folder: str, logs: list[str], accept: bool, as_json: bool) -> int:
    """Declared against observed. Yes: nothing is refuted; no: something is, and a change is proposed."""
    checked = open_project(folder)
    read = [read_run_log(name) for name in logs]
    chart = None
    if not all(r.head.chart_sha256.startswith(GUIDED) for r in read):
        chart = need(folder, "chart", Chart)
        must_be_of(checked.project, chart, folder)
    record = learn(checked, chart, maybe(folder, "ledger", Ledger), [r.log for r in read])
    digest, wrote = keep(folder, "source-proposals", record, {})
    errors, cell = _file(folder, "errors.yaml"), _file(folder, "cell.yaml")
    text, left = proposed_errors(checked.project, errors, record.body)
    moved, unwritten = proposed_cell(cell, record.body)
    change = diff(errors, text) + diff(cell, moved)
    if as_json:
        spoilt = invalidated_json(folder, record.body) if change else None
        answer = {**asdict(record.body), "diff": change, "invalidates": spoilt}
        say_json("learn", {**answer, "source_proposals_sha256": digest})
    else:
        for name, one in zip(logs, read, strict=True):
            if one.damage:
                say(f"{name}: read up to {one.damage}")
        _tell(record.body)
        if change:
            tell_invalidated(folder, record.body)
        _tell_unwritten([f"{errors.name}, write it yourself: {w.source}, {w.what}" for w in left])
        _tell_unwritten([f"{cell.name}, write it yourself: {line}" for line in unwritten])
        if change:
            say(change.rstrip("\n"))
        say(wrote)
    if accept and change:
        for path, new in ((errors, text), (cell, moved)):
            if diff(path, new):
                path.write_text(new, encoding="utf-8")
                say_unless(as_json, f"wrote {path}")
        say_unless(as_json, _then(folder, record.body))
    elif change and not as_json:
        say("to take this over: `handfast learn` with these logs and --accept")
    refuted = any(r.refuted for r in record.body.rows) or any(o.refuted for o in record.body.offsets)
    return NO if refuted else YES


def _tell_unwritten(lines: list[str]) -> None:
    for line in lines:
        say(f"not in {line}")


def say_unless(quiet: bool, line: str) -> None:
    """One line, unless the answer is JSON."""
    if not quiet:
        say(line)


def _then(folder: str, found: SourceProposals) -> str:
    """What to do once it is taken over."""
    again = f"`handfast plan {folder}` and `handfast budget {folder}`"
    mates = f", and look at {', '.join(found.mates)}" if found.mates else ""
    return f"the chart and the ledger are of the files as they were: {again} again{mates}"


def _file(folder: str, name: str) -> Path:
    path = Path(folder) / name
    if not path.exists():
        raise UnusableError(f"{path}: expected a file of the project, there is no such file")
    return path


def _tell(found: SourceProposals) -> None:
    say(f"{found.logs} {'log' if found.logs == 1 else 'logs'}, {len(found.rows)} comparisons")
    said = ""
    for row in found.rows:
        freedom = f" {FREEDOMS[row.freedom]}" if row.freedom >= 0 else ""
        verdict = "REFUTED" if row.refuted else "measured" if row.offered else "as declared"
        say(f"  {verdict:>11}  {row.source}{freedom}: declared {_shown(row, row.declared)}, observed "
            f"{_shown(row, row.observed)} ({_shown(row, row.interval[0])} to {_shown(row, row.interval[1])}, "
            f"{row.count} readings)")  # fmt: skip
        if row.text != said:
            say(f"               {row.text}")
        said = row.text
    if not found.rows:
        say("  nothing was read often enough: give logs of `handfast commission`, or of five runs and more")
    _tell_offsets(found.offsets)
    for move in found.moves:
        _tell_move(move)
    for what in found.not_measured:
        say(f"  not measured: {what}")


def _tell_offsets(offsets: tuple[Offset, ...]) -> None:
    """How far things stand off, by what they are."""
    before = ""
    for one in offsets:
        if one.what != before:
            say(f"  {one.what}, {one.text.partition(';')[0]}:")
            before = one.what
        unit = "mm" if one.freedom < 3 else "mrad"
        low, high = (1e3 * v for v in one.interval)
        verdict = "REFUTED" if one.refuted else "as declared"
        rest = one.text.partition("; ")[2]
        found = f"{FREEDOMS[one.freedom]:>2} {1e3 * one.found:+8.3f} {unit} ({low:+.3f} to {high:+.3f})"
        thought = f"declared sigma {1e3 * one.declared:.3f}" + (f"; {rest}" if rest else "")
        say(f"  {verdict:>11}    {found}, {thought}")


def _tell_move(move: BaseMove) -> None:
    say(f"  where the {move.arm} arm stands from the {move.other} arm: {move.text}")
    if move.worth:
        left = ", ".join(f"{1e3 * v:.3f}" for v in move.sigma)
        say(f"               base: {shown(move.new)}")
        say(f"               left uncertain, in its root frame: {left} (mm, mrad)")


def _shown(row: SourceProposal, value: float) -> str:
    if "[N" in row.text:
        return f"{value:.3g} N" + ("/min" if "[N/min]" in row.text else "")
    return f"{1e3 * value:.3g} mm" if row.freedom < 3 else f"{1e3 * value:.3g} mrad"
