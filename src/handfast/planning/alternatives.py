"""A planned mate once more, by every route: which would have worked, which not and why."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from handfast.mates.grasps import grasps
from handfast.model.chart import Chart
from handfast.model.grasp import Grasp
from handfast.model.no_plan import CauseCount
from handfast.model.project import Project
from handfast.planning.failure import Failure, tally
from handfast.planning.leg import Leg
from handfast.planning.realise import realise
from handfast.planning.replay import states_during
from handfast.planning.route import COST, Route
from handfast.planning.sequence import chosen
from handfast.planning.unit import Unit, needs, routes_of, units_of
from handfast.planning.workspace import Workspace, make_workspace


@dataclass(frozen=True, slots=True)
class Alternative:
    """One route from where things stood. chosen: the chart's; works: with free paths taken for granted;
    cost_s: what the search reckons a route of its kind to take; causes: why other grasps and poses fell
    out before one that works, or why none does."""

    route: str
    chosen: bool
    works: bool
    cost_s: float
    causes: tuple[CauseCount, ...]


@dataclass(frozen=True, slots=True)
class Held:
    """How a hand of the chart holds what it brings: features and zone of the fingers, how far the jaws stand
    apart [m], at what force [N] and torque [N m] it slips; rank: its place, from 1, in the order in which the
    grasps that the gripper has of it are looked at (0: it is none of them)."""

    hand: str
    item: str
    features: tuple[str, ...]
    zone: str
    width: float
    slip_force: float
    slip_torque: float
    rank: int
    of: int


@dataclass(frozen=True, slots=True)
class Alternatives:
    """after: the units that have to be done before, because it is joined to what they bring or says that it
    needs them; given: the project gives the order; held: the grasps of the chart, in order; routes in the
    order of their cost."""

    unit: str
    after: tuple[str, ...]
    given: bool
    held: tuple[Held, ...]
    routes: tuple[Alternative, ...]


def alternatives(project: Project, chart: Chart, mate: str) -> Alternatives:
    """What the search had to choose from when it came to a mate of the chart.

    project: the checked one that the chart was made from. Raises KeyError for a mate that it does not have,
    ValueError for one that the chart does not do.
    """
    project.product.mate(mate)
    ws = replace(make_workspace(project), dry=True)
    units = units_of(project.product)
    unit = next(u for u in units if mate in {m.name for m in u.mates})
    leg, taken = _before(ws, chart, unit), chosen(chart, unit)
    set_downs = any(h.kind == "set-down" for h in project.cell.holders)
    routes = routes_of(unit, tuple(ws.hands), set_downs)
    tried = tuple(_try(ws, leg, unit, route, route == taken) for route in routes)
    after = tuple(u.name for u in units if u.name in needs(unit, units))
    own = {m.name for m in unit.mates}
    held = tuple(
        _held(ws, leg, e.hand, e.grasp) for e in chart.elements if e.mate in own and e.grasp is not None
    )
    return Alternatives(unit.name, after, project.product.order_given, held, tried)


def _held(ws: Workspace, leg: Leg, hand: str, grasp: Grasp) -> Held:
    item = ws.items[grasp.item]
    mass = ws.mass(leg.state, item.name)
    every = grasps(ws.hands[hand].gripper, item.name, item.features, mass, item.friction)
    rank = next((k for k, g in enumerate(every, 1) if g == grasp), 0)
    return Held(
        hand, item.name, grasp.features, grasp.zone, grasp.width, grasp.slip_force, grasp.slip_torque, rank,
        len(every),
    )  # fmt: skip


def _before(ws: Workspace, chart: Chart, unit: Unit) -> Leg:
    """Where things stand once the mates before are done, what is held for later still in its hand."""
    own = {m.name for m in unit.mates}
    mine = [e for e in chart.elements if e.mate in own]
    if not mine:
        raise ValueError(f"expected a chart that does {unit.name}, found one without an element of it")
    before = set(chart.mates[: min(chart.mates.index(name) for name in own)])
    until = next(e.start_s for e in mine if e.kind in ("assemble", "use"))
    done = tuple(e for e in chart.elements if e.mate in before and e.start_s < until)
    return Leg(states_during(ws.start(), (*done, replace(mine[0], opening=None)))[-1], done)


def _try(ws: Workspace, leg: Leg, unit: Unit, route: Route, chosen: bool) -> Alternative:
    failures: list[Failure] = []
    works = _until_one(realise(ws, leg, unit, route, False, 0), failures)
    return Alternative(str(route), chosen, works or chosen, float(COST[route.kind]), tally(failures))


def _until_one(results: Iterator[Leg | Failure], failures: list[Failure]) -> bool:
    for result in results:
        if isinstance(result, Leg):
            return True
        failures.append(result)
    return False
