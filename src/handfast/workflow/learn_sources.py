"""Logs of runs -> what they say about the declared errors; and a run that measures on its way."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from handfast.checking.checked_project import CheckedProject
from handfast.execution.cell import Cell
from handfast.execution.repeats import Repeats
from handfast.files.errors_diff import Measured, with_measured
from handfast.files.record_json import make_record, sha256
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.proof import Proof
from handfast.model.record import Record
from handfast.model.run_log import RunLog
from handfast.model.source_proposal import SourceProposal, SourceProposals
from handfast.workflow.compare import MismatchError
from handfast.workflow.inputs import inputs_of
from handfast.workflow.run_chart import Told, run

NOT_MEASURED = (
    "runout of a bit: the cell's protocol has no way to turn the spindle against a gauge; clock it by hand",
    "arm against arm, and an arm's field over its reach: needs an artefact that both arms touch in places",
)
"""What commissioning does not tell yet, said with every answer."""


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
    chart: Record[Chart],
    ledger: Record[Ledger] | None,
    logs: Sequence[RunLog],
) -> Record[SourceProposals]:
    """Declared against observed, from logs of runs of this chart. Raises MismatchError for a log of another
    chart."""
    from handfast.learning.propose import propose

    for log in logs:
        if log.chart_sha256 != sha256(chart):
            raise MismatchError(
                f"expected logs of chart {sha256(chart)[:12]}, found one of {log.chart_sha256[:12]}; "
                "leave it out, or name the project it was run with"
            )
    rows = propose(checked.project, chart.body, ledger.body if ledger else None, logs)
    refuted = {r.source for r in rows if r.refuted}
    mates = tuple(
        row.mate for row in (ledger.body.rows if ledger else ())
        if refuted & {c.source for c in row.contributors}
    )  # fmt: skip
    body = SourceProposals(len(logs), rows, NOT_MEASURED, mates)
    known = (chart,) if ledger is None else (chart, ledger)
    return make_record(body, inputs_of(checked.project, *known), chart.seed)


def proposed_errors(path: str | Path, found: SourceProposals) -> tuple[str, tuple[Measured, ...]]:
    """The text of errors.yaml with what was refuted put right, and what could not be written there.

    Only rows of one source and one freedom are. Raises OSError.
    """
    measured = [_measured(r) for r in found.rows if r.refuted and r.freedom >= 0]
    return with_measured(Path(path), measured)


def _measured(row: SourceProposal) -> Measured:
    unit, scale = ("mm", 1e3) if row.freedom < 3 else ("mrad", 1e3)
    low, high = (f"{scale * v:.3g}" for v in row.interval)
    was = f"{scale * row.declared:.3g}"
    what = f"{row.count} readings, 95 %: {low} to {high} {unit}, was {was} {unit}"
    return Measured(row.source, row.freedom, row.observed, what)
