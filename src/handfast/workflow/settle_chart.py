"""Plan and budget together, and say whether the target is met."""

from __future__ import annotations

from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger, MateRow
from handfast.model.no_plan import NoPlan
from handfast.model.record import Record
from handfast.workflow.make_chart import Progress, is_chart, plan, reasons
from handfast.workflow.make_ledger import budget


class NoPlanError(ValueError):
    """There is no plan to settle. no_plan says why."""

    def __init__(self, no_plan: NoPlan) -> None:
        super().__init__(f"no plan for {no_plan.mate}: {', '.join(c.cause for c in no_plan.causes)}")
        self.no_plan = no_plan


def settle(
    checked: CheckedProject, *, seed: int = 0, progress: Progress | None = None
) -> tuple[Record[Chart], Record[Ledger]]:
    """A chart with the touches that the project asks for, and its ledger; it adds no touches of its own.

    Raises NoPlanError, and BudgetError if the error sources cannot be used.
    """
    found = plan(checked, seed=seed, progress=progress)
    if is_chart(found):
        return found, budget(checked, found)
    raise NoPlanError(reasons(found))


def short_of(ledger: Ledger, target: float) -> tuple[MateRow, ...]:
    """The mates whose chance may lie below the target (0..1)."""
    return tuple(row for row in ledger.rows if row.probability.low < target)
