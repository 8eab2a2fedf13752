"""Logs of runs -> what they say about the declared errors; and a run that measures on its way."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from handfast.checking.checked_project import CheckedProject
from handfast.execution.cell import Cell
from handfast.execution.repeats import Repeats
from handfast.files.base_text import shown, with_base
from handfast.files.errors_diff import Measured, with_measured
from handfast.files.record_json import make_record, sha256
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.project import Project
from handfast.model.proof import Proof
from handfast.model.record import Record
from handfast.model.run_log import RunLog
from handfast.model.source_proposal import SourceProposal, SourceProposals
from handfast.workflow.compare import MismatchError
from handfast.workflow.guided import GUIDED, cell_key
from handfast.workflow.inputs import inputs_of
from handfast.workflow.run_chart import Told, run

Routine = Literal["artefact", "runout", "jaws", "touches", "looks", "forces"]
"""What `commission` can measure: "artefact": both arms touch one ball; "runout": bits do, turned; "jaws",
"touches", "looks" and "forces": again and again while the chart is run."""
SUM = " + "
"""Between the names of sources of which only the sum is seen."""
ARMS_OPEN = (
    "arm against arm, and what is left of the arms' fields: `commission --only artefact`, for which "
    "cell.yaml declares an artefact"
)
RUNOUT_OPEN = "runout of {tool}'s bit: `commission --only runout`, against the same artefact"


def commission(
    checked: CheckedProject,
    chart: Record[Chart],
    ledger: Record[Ledger],
    cell: Cell,
    *,
    repeats: Repeats | None = None,
    proof: Record[Proof] | None = None,
    log: str | Path | None = None,
    told: Told | None = None,
) -> Record[RunLog]:
    """One build that measures on its way: jaws closed, faces touched, parts found and forces read again and
    again, each on a proven motion of the chart. Raises as `run`."""
    often = Repeats() if repeats is None else repeats
    return run(checked, chart, ledger, cell, proof=proof, log=log, told=told, repeats=often)


def learn(
    checked: CheckedProject,
    chart: Record[Chart] | None,
    ledger: Record[Ledger] | None,
    logs: Sequence[RunLog],
) -> Record[SourceProposals]:
    """Declared against observed, from logs of runs of this chart and of guided routines in this cell. Raises
    MismatchError for a log of another chart, or of the cell as it was written before."""
    project = checked.project
    guided = [log for log in logs if log.chart_sha256.startswith(GUIDED)]
    runs = [log for log in logs if not log.chart_sha256.startswith(GUIDED)]
    _must_fit(checked, chart, runs, guided)
    rows: tuple[SourceProposal, ...] = ()
    if chart is not None and runs:
        from handfast.learning.propose import propose

        rows = propose(project, chart.body, ledger.body if ledger else None, runs)
    found = _of_guided(project, guided)
    rows = (*rows, *found.rows)
    changed = {name for r in rows if r.refuted or r.offered for name in r.source.split(SUM)}
    changed |= {m.source for m in found.moves if m.worth}
    mates = tuple(
        row.mate for row in (ledger.body.rows if ledger else ())
        if changed & {c.source for c in row.contributors}
    )  # fmt: skip
    body = SourceProposals(len(logs), rows, found.not_measured, mates, found.offsets, found.moves)
    known = tuple(r for r in (chart, ledger) if r is not None)
    return make_record(body, inputs_of(project, *known), 0 if chart is None else chart.seed)


def _must_fit(
    checked: CheckedProject, chart: Record[Chart] | None, runs: list[RunLog], guided: list[RunLog]
) -> None:
    for log in runs:
        if chart is None or log.chart_sha256 != sha256(chart):
            known = "no chart" if chart is None else f"logs of chart {sha256(chart)[:12]}"
            raise MismatchError(
                f"expected {known}, found one of {log.chart_sha256[:12]}; "
                "leave it out, or name the project it was run with"
            )
    if any(log.chart_sha256 != cell_key(checked.project) for log in guided):
        raise MismatchError(
            "expected logs of the cell as cell.yaml has it now, found one from before it was changed: where "
            "arms were touches then is not where they are written to stand now; commission again"
        )


def _of_guided(project: Project, logs: Sequence[RunLog]) -> SourceProposals:
    """What guided routines tell, and what they would tell if they were done."""
    from handfast.learning.ball_readings import ball_readings
    from handfast.learning.left_over import agree, left_over
    from handfast.learning.runout import runout_rows
    from handfast.learning.two_bases import two_bases

    open_: list[str] = []
    rows: list[SourceProposal] = []
    readings = ball_readings(project, logs)
    found = two_bases(project, readings)
    if found is None:
        open_.append(ARMS_OPEN)
    else:
        rows += left_over(project, readings, found.fit)
        wrong = agree(project, readings, found.fit)
        open_ += [*found.cannot, *([wrong] if wrong else [])]
    turned = runout_rows(project, logs)
    rows += turned
    if not turned:
        open_ += [RUNOUT_OPEN.format(tool=tool.name) for tool in project.cell.tools]
    offsets, moves = (found.offsets, found.moves) if found else ((), ())
    return SourceProposals(len(logs), tuple(rows), tuple(open_), (), offsets, moves)


def proposed_errors(
    project: Project, path: str | Path, found: SourceProposals
) -> tuple[str, tuple[Measured, ...]]:
    """The text of errors.yaml with what was refuted or measured put right, and what could not be written
    there.

    Only rows of one source and one freedom are. Raises OSError.
    """
    measured = [_measured(r) for r in found.rows if (r.refuted or r.offered) and r.freedom >= 0]
    for move in found.moves:
        if move.worth and move.source:
            what = f"left uncertain of where the {move.arm} arm stands from the {move.other} arm"
            measured += [Measured(move.source, i, v, what) for i, v in enumerate(move.sigma)]
    return with_measured(Path(path), measured, {s.name: s.sigma for s in project.errors})


def proposed_cell(path: str | Path, found: SourceProposals) -> tuple[str, tuple[str, ...]]:
    """The text of cell.yaml with arms where they were measured to stand, and the lines that could not be
    written there. Raises OSError."""
    text, left = Path(path).read_text(encoding="utf-8"), []
    for move in (m for m in found.moves if m.worth):
        changed = with_base(text, move.arm, move.new, move.other)
        if changed is None:
            left.append(f"arms.{move.arm}: base: {shown(move.new)}, measured_from: {move.other}")
        else:
            text = changed
    return text, tuple(left)


def _measured(row: SourceProposal) -> Measured:
    unit, scale = ("mm", 1e3) if row.freedom < 3 else ("mrad", 1e3)
    low, high = (f"{scale * v:.3g}" for v in row.interval)
    was = f"{scale * row.declared:.3g}"
    what = f"{row.count} readings, 95 %: {low} to {high} {unit}, was {was} {unit}"
    return Measured(row.source, row.freedom, row.observed, what)
