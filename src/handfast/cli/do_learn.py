"""handfast learn, handfast commission."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

from handfast.cli.do_run import must_be_known, open_cell, proven
from handfast.cli.exit_codes import NO, YES, UnusableError
from handfast.cli.open_project import open_project
from handfast.cli.run_lines import tell_end
from handfast.cli.saved_records import keep, maybe, must_be_of, need, record_path
from handfast.cli.screen import say, say_json
from handfast.files.errors_diff import diff
from handfast.files.run_log_file import read_run_log
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.source_proposal import SourceProposal, SourceProposals
from handfast.workflow.learn_sources import commission, learn, proposed_errors

FREEDOMS = ("x", "y", "z", "rx", "ry", "rz")


def do_commission(folder: str, cell: str, seed: int, log: str | None, as_json: bool) -> int:
    """Run the chart once, measuring on the way, and compare with what is declared. No: something is refuted,
    or the run stopped."""
    must_be_known(cell)
    checked = open_project(folder)
    chart = need(folder, "chart", Chart)
    must_be_of(checked.project, chart, folder)
    ledger = need(folder, "ledger", Ledger)
    proof = proven(checked, chart, folder)
    path = Path(log) if log is not None else record_path(folder, "commission-log").with_suffix(".jsonl")
    opened = open_cell(checked, chart, cell, seed)
    found = commission(checked, chart, ledger, opened, proof=proof, log=path).body
    if found.ended != "done" and not as_json:
        tell_end(found)
    code = do_learn(folder, [str(path)], accept=False, as_json=as_json)
    return code if found.ended == "done" else NO


def do_learn(folder: str, logs: list[str], accept: bool, as_json: bool) -> int:
    """Declared against observed. Yes: nothing is refuted; no: something is, and a change is proposed."""
    checked = open_project(folder)
    chart = need(folder, "chart", Chart)
    must_be_of(checked.project, chart, folder)
    read = [read_run_log(name) for name in logs]
    record = learn(checked, chart, maybe(folder, "ledger", Ledger), [r.log for r in read])
    digest, wrote = keep(folder, "source-proposals", record, {})
    errors = _errors_file(folder)
    text, left = proposed_errors(errors, record.body)
    change = diff(errors, text)
    if as_json:
        say_json("learn", {**asdict(record.body), "diff": change, "source_proposals_sha256": digest})
    else:
        for name, one in zip(logs, read, strict=True):
            if one.damage:
                say(f"{name}: read up to {one.damage}")
        _tell(record.body)
        for what in left:
            say(f"not in {errors.name}, write it yourself: {what.source}, {what.what}")
        if change:
            say(change.rstrip("\n"))
        say(wrote)
    if accept and change:
        errors.write_text(text, encoding="utf-8")
        say(f"wrote {errors}; plan and budget again")
    elif change and not as_json:
        say("to take this over: `handfast learn` with these logs and --accept, then plan and budget again")
    return NO if any(r.refuted for r in record.body.rows) else YES


def _errors_file(folder: str) -> Path:
    path = Path(folder) / "errors.yaml"
    if not path.exists():
        raise UnusableError(f"{path}: expected the errors of the project, there is no such file")
    return path


def _tell(found: SourceProposals) -> None:
    say(f"{found.logs} logs, {len(found.rows)} comparisons")
    for row in found.rows:
        freedom = f" {FREEDOMS[row.freedom]}" if row.freedom >= 0 else ""
        verdict = "REFUTED" if row.refuted else "as declared"
        say(f"  {verdict:>11}  {row.source}{freedom}: declared {_shown(row, row.declared)}, observed "
            f"{_shown(row, row.observed)} ({_shown(row, row.interval[0])} to {_shown(row, row.interval[1])}, "
            f"{row.count} readings)")  # fmt: skip
        say(f"               {row.text}")
    if not found.rows:
        say("  nothing was read often enough: give logs of `handfast commission`, or of five runs and more")
    for what in found.not_measured:
        say(f"  not measured: {what}")
    if found.mates:
        say(f"  mates to check again: {', '.join(found.mates)}")


def _shown(row: SourceProposal, value: float) -> str:
    if "[N" in row.text:
        return f"{value:.3g} N" + ("/min" if "[N/min]" in row.text else "")
    return f"{1e3 * value:.3g} mm" if row.freedom < 3 else f"{1e3 * value:.3g} mrad"
