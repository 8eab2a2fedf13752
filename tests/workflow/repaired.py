"""What a person does after a run that stopped: repair, lead the hand clear, and go on."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from tests.workflow.planted_faults import Fault, FaultyCell

from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.proof import Proof
from handfast.model.record import Record
from handfast.model.run_log import RunLog
from handfast.planning.resumed import StandsClearError
from handfast.workflow.resume_run import failed_at, run_from, undo, what_must_be
from handfast.workflow.run_chart import run


@dataclass(frozen=True)
class Ready:
    """A product, planned, proven and budgeted."""

    checked: CheckedProject
    chart: Record[Chart]
    proof: Record[Proof]
    ledger: Record[Ledger]

    def run(self, cell: FaultyCell, log: Path | None = None) -> RunLog:
        return run(self.checked, self.chart, self.ledger, cell, proof=self.proof, log=log).body


def cell_of(ready: Ready, fault: Fault, seed: int) -> FaultyCell:
    return FaultyCell(ready.checked.project, ready.chart.body, fault, seed)


def after_repair(ready: Ready, cell: FaultyCell, log: RunLog) -> RunLog:
    """A person repairs it, the hand is led clear, and the run goes on."""
    cell.repair()
    number = failed_at(ready.chart.body, log.lines)
    try:
        undone, then = undo(ready.checked, ready.chart, cell, number)
        assert undone.ended == "done", undone.reason
    except StandsClearError as clear:
        then = clear.number
    must_be = what_must_be(ready.checked, ready.chart, cell, then)
    assert [m.item for m in must_be if m.right is not True] == []
    return run_from(ready.checked, ready.chart, ready.ledger, cell, then, earlier=log.lines).body


def begun_anew(ready: Ready, cell: FaultyCell, log: RunLog) -> RunLog:
    """A person repairs it, puts what is in the hand back where it started, and begins its mate anew."""
    cell.repair()
    failed = ready.chart.body.element(failed_at(ready.chart.body, log.lines))
    held = cell.truth.hands[failed.hand].holds
    assert held is not None
    cell.put_back(held)
    mate = next(m for m in ready.checked.project.product.mates if m.part == held)
    first = min(e.number for e in ready.chart.body.elements if e.mate == mate.name)
    must_be = what_must_be(ready.checked, ready.chart, cell, first)
    assert [m.item for m in must_be if m.right is not True] == []
    return run_from(ready.checked, ready.chart, ready.ledger, cell, first, earlier=log.lines).body


def all_anew(ready: Ready, cell: FaultyCell) -> RunLog:
    """A person repairs the arm, puts everything back where it started, and begins with the first element.

    What was touched with the arm as it was tells of the arm, not of the parts: going on with it puts the
    screw beside its hole.
    """
    cell.repair()
    for attachment in ready.chart.body.start.attachments:
        cell.put_back(attachment.item)
    must_be = what_must_be(ready.checked, ready.chart, cell, 1)
    assert [m.item for m in must_be if m.right is False] == []
    return run_from(ready.checked, ready.chart, ready.ledger, cell, 1).body
