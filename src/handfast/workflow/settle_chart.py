"""Plan and budget in turn: the ledger demands touches and strategies, the next plan makes them, until nothing
more helps."""

from __future__ import annotations

from dataclasses import dataclass, replace

from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger, MateRow
from handfast.model.no_plan import NoPlan
from handfast.model.record import Record
from handfast.model.strategy import Strategy
from handfast.model.touch import Touch
from handfast.model.touch_demand import TouchDemand
from handfast.workflow.make_chart import Progress, is_chart, plan, reasons
from handfast.workflow.make_ledger import budget

# Each round adds a touch or an exclusion; this many are more than any project here has taken.
_ROUNDS = 8
Demands = tuple[TouchDemand, ...]


class NoPlanError(ValueError):
    """There is no plan to settle. no_plan says why."""

    def __init__(self, no_plan: NoPlan) -> None:
        super().__init__(f"no plan for {no_plan.mate}: {', '.join(c.cause for c in no_plan.causes)}")
        self.no_plan = no_plan


@dataclass(frozen=True, slots=True)
class Settled:
    """The last chart and its ledger; demands: what was asked for beside the project's own touches, what
    could not be made, and why no more was asked for.
    """

    chart: Record[Chart]
    ledger: Record[Ledger]
    demands: Demands


def settle(
    checked: CheckedProject,
    *,
    target: float | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    together: bool = False,
    work: int = 0,
) -> tuple[Record[Chart], Record[Ledger]]:
    """A chart with as few touches as bring every mate to `target` (0..1; None: the project's), and its
    ledger.

    together: both hands at once; work: how many other sequences are tried for a shorter cycle. The sequence
    is found before any touch is asked for, and kept where they can be made in it.

    Where the target is out of reach the chart has the touches that are worth their time. Raises
    NoPlanError, and BudgetError if the error sources cannot be used.
    """
    found = settled(checked, target=target, seed=seed, progress=progress, together=together, work=work)
    return found.chart, found.ledger


def settled(
    checked: CheckedProject,
    *,
    target: float | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    together: bool = False,
    work: int = 0,
) -> Settled:
    """The same, with what was demanded and what came of it. Raises NoPlanError and BudgetError.

    Where the sequence of the shortest cycle falls short of the target, the one as first found is settled
    too, and taken if it falls less short.
    """
    wanted = checked.project.target if target is None else target
    first = _chart(plan(checked, seed=seed, progress=progress, together=together, work=work))
    best = _settled(checked, first, wanted, seed, progress, together)
    missing = short_of(best.ledger.body, wanted)
    if missing and (together or work):
        plain = _chart(plan(checked, seed=seed, progress=progress))
        as_found = _chart(plan(checked, seed=seed, progress=progress, together=together, like=plain.body))
        other = _settled(checked, as_found, wanted, seed, progress, together)
        if len(short_of(other.ledger.body, wanted)) < len(missing):
            return other
    return best


def _chart(found: Record[Chart] | Record[NoPlan]) -> Record[Chart]:
    if is_chart(found):
        return found
    raise NoPlanError(reasons(found))


def _settled(
    checked: CheckedProject,
    first: Record[Chart],
    wanted: float,
    seed: int,
    progress: Progress | None,
    together: bool,
) -> Settled:
    """Settled with the sequence of a first chart, where the touches can be made in it."""
    chart, demands = first, Demands()
    for _ in range(_ROUNDS):
        asked = _asked(checked, chart.body, demands, wanted, seed)
        if _wants(asked) == _wants(demands):
            demands = asked
            break
        found = plan(checked, seed=seed, progress=progress, demands=asked, together=together, like=first.body)
        if is_chart(found):
            chart = found
        demands = as_made(chart.body, asked)
    return Settled(chart, budget(checked, chart), demands)


def short_of(ledger: Ledger, target: float) -> tuple[MateRow, ...]:
    """The mates whose chance may lie below the target (0..1), or depends on the contact model."""
    return tuple(
        row for row in ledger.rows if row.probability.low < target or row.probability.model_dependent
    )


def _asked(checked: CheckedProject, chart: Chart, demands: Demands, target: float, seed: int) -> Demands:
    from handfast.planning.can_touch import can_touch
    from handfast.uncertainty.choose_touches import demands_for

    project = checked.project
    return demands_for(project, chart, target, demands, can_touch(project, chart, seed))


def as_made(chart: Chart, demands: Demands) -> Demands:
    """The demands with the touches that the chart does not make moved to those that cannot be made."""
    out = []
    for demand in demands:
        made = [e.touch for e in chart.elements if e.kind == "locate" and e.mate == demand.mate]
        kept = tuple(t for t in demand.touches if t in made)
        lost = tuple(t for t in demand.touches if t not in made)
        out.append(replace(demand, touches=kept, excluded=(*demand.excluded, *lost)))
    return tuple(out)


def _wants(demands: Demands) -> dict[str, tuple[tuple[Touch, ...], Strategy | None]]:
    return {d.mate: (d.touches, d.strategy) for d in demands if d.touches or d.strategy}
