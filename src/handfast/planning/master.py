"""The constraint master: order, routes and hands, under everything learned so far."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from handfast.planning.route import COST, Route
from handfast.planning.sat import Literal, Sat, negated
from handfast.planning.unit import Unit, needs, retained_by

_SCALE = 1000
_INVERSION = 10  # of a thousandth of a second: prefers the order of the file where nothing else decides


@dataclass(frozen=True, slots=True)
class Clause:
    """A route of a unit that does not work when all of `present` are already done and none of `absent` is.
    proven: confirmed by re-testing; otherwise a search ran out of its cap."""

    unit: str
    route: Route
    present: frozenset[str]
    proven: bool
    absent: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Proposal:
    """Units in order, each with its route; cost in thousandths of a second."""

    steps: tuple[tuple[str, Route], ...]
    cost: int


def propose(
    units: tuple[Unit, ...],
    routes: dict[str, tuple[Route, ...]],
    clauses: tuple[Clause, ...],
    order_given: bool,
    holds: frozenset[str] | None = None,
) -> Proposal | None:
    """The cheapest order and routes that no clause forbids; None if there is none. holds: of the units whose
    parts are held until retained, those that count (all if None).

    Repeatable: one worker, no wall-clock limit.
    """
    return _as_written(units, routes, clauses, holds) or solved(units, routes, clauses, order_given, holds)


def _as_written(
    units: tuple[Unit, ...],
    routes: dict[str, tuple[Route, ...]],
    clauses: tuple[Clause, ...],
    holds: frozenset[str] | None,
) -> Proposal | None:
    """The order of the file with every unit by its cheapest route, if nothing forbids it: then no other
    costs as little, and there is nothing to solve."""
    never = {(c.unit, c.route) for c in clauses if not c.present and not c.absent}
    steps, cost = [], 0
    for u in units:
        open_ = [
            (COST[r.kind] * _SCALE + k, r) for k, r in enumerate(routes[u.name]) if (u.name, r) not in never
        ]
        if not open_:
            return None
        least, route = min(open_, key=lambda o: o[0])
        steps.append((u.name, route))
        cost += least
    place, by = {u.name: i for i, u in enumerate(units)}, dict(steps)
    for i, u in enumerate(units):
        if any(place[n] > i for n in needs(u, units)):
            return None
        until = retained_by(u, units)
        if until is not None and (holds is None or u.name in holds):
            between = steps[i + 1 : place[until] + 1]
            if place[until] < i or any(by[u.name].last in r.hands for _, r in between):
                return None
    for c in clauses:
        i = place[c.unit]
        if (
            by[c.unit] == c.route
            and all(place[p] < i for p in c.present)
            and all(place[p] > i for p in c.absent)
        ):
            return None
    return Proposal(tuple(steps), cost)


def solved(
    units: tuple[Unit, ...],
    routes: dict[str, tuple[Route, ...]],
    clauses: tuple[Clause, ...],
    order_given: bool,
    holds: frozenset[str] | None = None,
) -> Proposal | None:
    """The same by the constraint solver, whatever the answer is."""
    sat = Sat()
    place = {u.name: sat.integer(0, len(units) - 1) for u in units}
    earlier = _orders(sat, units, place)
    use = {u.name: {r: sat.boolean() for r in routes[u.name]} for u in units}
    for u in units:
        sat.exactly_one(use[u.name].values())
        for before in sorted(needs(u, units)):
            sat.any_of([earlier[before, u.name]])
        until = retained_by(u, units)
        if until is not None and (holds is None or u.name in holds):
            _keep_hand(sat, u, until, units, use, earlier)
    for a, b in pairwise(units) if order_given else ():
        sat.any_of([earlier[a.name, b.name]])
    for clause in clauses:
        here = use[clause.unit].get(clause.route)
        if here is not None:
            way_out = [earlier[clause.unit, p] for p in sorted(clause.present)]
            way_out += [earlier[p, clause.unit] for p in sorted(clause.absent)]
            sat.any_of([negated(here), *way_out])
    _cost(sat, units, use, earlier)
    found = sat.cheapest()
    if found is None:
        return None
    order = sorted(units, key=lambda u: found.values[place[u.name]])
    steps = tuple((u.name, next(r for r, lit in use[u.name].items() if found.true(lit))) for u in order)
    return Proposal(steps, found.cost)


def _cost(
    sat: Sat,
    units: tuple[Unit, ...],
    use: dict[str, dict[Route, Literal]],
    earlier: dict[tuple[str, str], Literal],
) -> None:
    """Seconds of the routes; equal ones are told apart by the order of routes and units in the file, not by
    the solver's whims."""
    for u in units:
        for k, (route, literal) in enumerate(use[u.name].items()):
            sat.costs(literal, COST[route.kind] * _SCALE + k)
    for i, a in enumerate(units):
        for b in units[i + 1 :]:
            sat.costs(earlier[b.name, a.name], _INVERSION)


def _orders(sat: Sat, units: tuple[Unit, ...], place: dict[str, int]) -> dict[tuple[str, str], Literal]:
    """For every pair of units the literal that says the first comes earlier; so no two share a place."""
    earlier: dict[tuple[str, str], Literal] = {}
    for i, a in enumerate(units):
        for b in units[i + 1 :]:
            first = sat.boolean()
            sat.less(place[a.name], place[b.name], first)
            sat.less(place[b.name], place[a.name], negated(first))
            earlier[a.name, b.name], earlier[b.name, a.name] = first, negated(first)
    return earlier


def _keep_hand(
    sat: Sat,
    held: Unit,
    until: str,
    units: tuple[Unit, ...],
    use: dict[str, dict[Route, Literal]],
    earlier: dict[tuple[str, str], Literal],
) -> None:
    """While a hand holds a part until it is retained, no unit in between uses that hand."""
    sat.any_of([earlier[held.name, until]])
    for route, here in use[held.name].items():
        for other in units:
            for r, there in use[other.name].items():
                if other is held or route.last not in r.hands:
                    continue
                outside = [earlier[other.name, held.name]]
                outside += [earlier[until, other.name]] if other.name != until else []
                sat.any_of([negated(here), negated(there), *outside])
