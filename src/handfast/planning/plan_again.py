"""A plan made from an earlier chart: what nothing has changed for is taken over as it stands."""

from __future__ import annotations

from dataclasses import dataclass, replace

from handfast.checking.checked_project import CheckedProject
from handfast.model.basis import Basis
from handfast.model.chart import Chart
from handfast.model.touch_demand import TouchDemand
from handfast.planning.basis import changed
from handfast.planning.digests import digests
from handfast.planning.effort import GaveUpError
from handfast.planning.failure import tally
from handfast.planning.improve import timed
from handfast.planning.leg import Leg
from handfast.planning.local_moves import keeps_the_order
from handfast.planning.master import Proposal
from handfast.planning.plan import Planned, columns
from handfast.planning.route import Route
from handfast.planning.search import Found, Progress, follow, keeps_tool
from handfast.planning.stuck import Tried
from handfast.planning.take_over import TRIES, TakeOver
from handfast.planning.unit import Unit, units_of
from handfast.planning.workspace import Workspace, make_workspace


@dataclass(frozen=True, eq=False, slots=True)
class Again:
    """kept: elements that are those of the earlier chart, of `of` (holds and delays come with the times and
    are not counted); alike: others, planned anew, that came out as they were; because: why units were planned
    anew, by name."""

    planned: Planned
    kept: int
    of: int
    alike: int
    because: dict[str, str]


def plan_again(
    checked: CheckedProject,
    chart: Chart,
    basis: Basis,
    *,
    seed: int = 0,
    progress: Progress | None = None,
    demands: tuple[TouchDemand, ...] = (),
) -> Again | str:
    """Follow the chart's own sequence, planning anew only what has to be; or why that is not possible: then
    it has to be planned from nothing.

    chart, basis: of an earlier state of the project, planned with the same seed. No other sequence is
    looked for: one that is better now is found only from nothing. demands: as for `plan`.
    progress(unit, done, of) is called before each unit that is planned anew.
    """
    ws = make_workspace(checked.project, demands=demands)
    units = units_of(checked.project.product)
    by_name = {u.name: u for u in units}
    now = digests(checked.project, demands)
    if changed(basis.rules, now):
        return "the controller, the clearance, the order or the sub-assemblies are not as they were"
    if set(by_name) != {u.name for u in basis.units}:
        return f"other mates: {_others(by_name, basis)}"
    if set(chart.hands) != set(ws.hands):
        return "other arms"
    steps = tuple((u.name, Route(u.route[0], u.route[1:])) for u in basis.units)  # type: ignore[arg-type]
    if not keeps_the_order(units, steps, checked.project.product.order_given):
        return "the mates now have to be made in another order"
    proposal, tried = Proposal(steps, 0), Tried(Leg(ws.start()))
    keeps = tuple(keeps_tool(by_name, proposal, i) for i in range(len(steps)))
    earlier = TakeOver(ws, chart, basis, now, keeps, seed)
    # Where it is hard to find, another sequence may be easy.
    quick = replace(ws, caps=ws.caps.smaller(), old=earlier.old, effort=earlier.effort)
    try:
        leg = follow(quick, units, proposal, tried, seed, progress, earlier.unit)
    except GaveUpError:
        return _stuck(tried, proposal, f"within {TRIES} tries")
    if leg is None:
        return _stuck(tried, proposal)
    return _told(ws, Found(earlier.way_home(leg), proposal, tried), earlier, basis, seed)


def _told(ws: Workspace, found: Found, earlier: TakeOver, basis: Basis, seed: int) -> Again:
    hands = columns(ws)
    best = timed(ws, found, hands, basis.together, seed)
    planned = Planned(ws, best, hands, basis.together)
    kept, alike = earlier.kept(best.leg), earlier.alike(best.leg)
    return Again(planned, kept, len(best.leg.elements), alike, dict(earlier.because))


def _others(now: dict[str, Unit], basis: Basis) -> str:
    then = {u.name for u in basis.units}
    words = [f"{name} is new" for name in now if name not in then]
    return ", ".join([*words, *(f"{name} is gone" for name in sorted(then - set(now)))])


def _stuck(tried: Tried, proposal: Proposal, limit: str = "by that sequence") -> str:
    """The step of the sequence that was not found any more, and its nearest failure so far."""
    unit, route = proposal.steps[max(map(len, tried.others)) - 1]
    failures = tried.failures[unit, route]
    why = "".join(
        f"; {t.cause}" + (f", nearest {t.nearest}" if t.nearest else "") for t in tally(failures)[:1]
    )
    return f"{unit} by {route} was not found again {limit}{why}"
