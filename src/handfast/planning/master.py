"""The constraint master: order, routes and hands, under everything learned so far."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import pairwise

from handfast.planning.clause import Clause
from handfast.planning.in_file_order import in_file_order
from handfast.planning.order import Order
from handfast.planning.route import COST, Route
from handfast.planning.sat import Literal, Sat, negated
from handfast.planning.unit import Unit, all_needs, retained_by

_SCALE = 1000
_FEW = 20  # units of which every pair is written down at once
_WORK = 0.1  # of the solver on the order of many units, in each round; some 0.3 s
_INVERSION = 10  # of a thousandth of a second: prefers the order of the file where nothing else decides


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
    parts are held until retained, those that count (all if None). Of many units the order may be one of
    several that cost the same but for how near they are to that of the file.

    Repeatable: one worker, no wall-clock limit.
    """
    written = _as_written(units, routes, clauses, holds)
    if written is not None:
        return written
    if len(units) > _FEW and not order_given and not any(retained_by(u, units) for u in units):
        steps = in_file_order(units, routes, clauses)
        if steps is not None:
            return Proposal(steps, _cost_of(steps, routes, units))
        return crowded(units, routes, clauses)
    return solved(units, routes, clauses, order_given, holds)


def _cost_of(
    steps: tuple[tuple[str, Route], ...], routes: dict[str, tuple[Route, ...]], units: tuple[Unit, ...]
) -> int:
    """Of a sequence, as the solver would count it."""
    place = {u.name: i for i, u in enumerate(units)}
    order = [place[name] for name, _ in steps]
    swapped = sum(a > b for i, a in enumerate(order) for b in order[i + 1 :])
    routed = sum(COST[r.kind] * _SCALE + routes[name].index(r) for name, r in steps)
    return routed + _INVERSION * swapped


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
    place, by, before = {u.name: i for i, u in enumerate(units)}, dict(steps), all_needs(units)
    for i, u in enumerate(units):
        if any(place[n] > i for n in before[u.name]):
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


def crowded(
    units: tuple[Unit, ...], routes: dict[str, tuple[Route, ...]], clauses: tuple[Clause, ...]
) -> Proposal | None:
    """The cheapest routes of units that keep each other out, and of the pairs that some rule speaks of as few
    out of order as that allows. Where many orders have to be tried, to weigh all the other pairs, too, would
    take longer than to try one."""
    sat = Sat()
    order = Order(sat, {u.name: i for i, u in enumerate(units)})
    use = {u.name: {r: sat.boolean() for r in routes[u.name]} for u in units}
    _rules(sat, order, units, use, clauses, False, None)
    for u in units:
        for k, (route, literal) in enumerate(use[u.name].items()):
            sat.costs(literal, COST[route.kind] * _SCALE + k)
    for a, b in order.in_file():
        sat.costs(order.earlier(b, a), _INVERSION)
    found = sat.cheapest(_WORK)
    if found is None:
        return None
    steps = tuple((n, next(r for r, lit in use[n].items() if found.true(lit))) for n in order.of(found))
    return Proposal(steps, _cost_of(steps, routes, units))


def solved(
    units: tuple[Unit, ...],
    routes: dict[str, tuple[Route, ...]],
    clauses: tuple[Clause, ...],
    order_given: bool,
    holds: frozenset[str] | None = None,
) -> Proposal | None:
    """The same by the constraint solver, whatever the answer is.

    Of many units not every pair is written down: one that no rule speaks of costs nothing at first when it
    is out of order. Where the answer has such pairs out of order they are written down too, and it is asked
    again. An answer that has none is the cheapest: no other could cost less with all of them written down. Of
    many units the solver may end before it knows that none is cheaper: the order of the file is a wish.
    """
    file = {u.name: i for i, u in enumerate(units)}
    every = {(a.name, b.name) for i, a in enumerate(units) for b in units[i + 1 :]}
    pairs = every if len(units) <= _FEW else set[tuple[str, str]]()
    while True:
        sat = Sat()
        order = Order(sat, file)
        use = {u.name: {r: sat.boolean() for r in routes[u.name]} for u in units}
        for a, b in sorted(pairs, key=lambda p: (file[p[0]], file[p[1]])):
            order.earlier(a, b)
        _rules(sat, order, units, use, clauses, order_given, holds)
        _cost(sat, order, units, use)
        found = sat.cheapest(_WORK if len(units) > _FEW else None)
        if found is None:
            return None
        names = order.of(found)
        free = every - order.written if len(units) > _FEW else set()
        pairs = order.written | _with_moved(names, file, free)
        if pairs == order.written:
            steps = tuple((n, next(r for r, lit in use[n].items() if found.true(lit))) for n in names)
            return Proposal(steps, found.cost)


def _with_moved(names: list[str], file: dict[str, int], free: set[tuple[str, str]]) -> set[tuple[str, str]]:
    """The pairs that are out of order and free to be, with all other free pairs of what was moved most."""
    out = {(b, a) for i, a in enumerate(names) for b in names[i + 1 :] if file[b] < file[a]} & free
    if not out:
        return set()
    often = Counter(name for pair in out for name in pair)
    moved = {max(pair, key=lambda name: (often[name], name)) for pair in out}
    return out | {pair for pair in free if moved & set(pair)}


def _rules(
    sat: Sat,
    order: Order,
    units: tuple[Unit, ...],
    use: dict[str, dict[Route, Literal]],
    clauses: tuple[Clause, ...],
    order_given: bool,
    holds: frozenset[str] | None,
) -> None:
    """One route for each unit, what comes before what, hands that hold, and what was learned."""
    before = all_needs(units)
    for u in units:
        sat.exactly_one(use[u.name].values())
        for name in sorted(before[u.name]):
            sat.any_of([order.earlier(name, u.name)])
        until = retained_by(u, units)
        if until is not None and (holds is None or u.name in holds):
            _keep_hand(sat, order, u, until, units, use)
    for a, b in pairwise(units) if order_given else ():
        sat.any_of([order.earlier(a.name, b.name)])
    for clause in clauses:
        here = use[clause.unit].get(clause.route)
        if here is not None:
            way_out = [order.earlier(clause.unit, p) for p in sorted(clause.present)]
            way_out += [order.earlier(p, clause.unit) for p in sorted(clause.absent)]
            sat.any_of([negated(here), *way_out])


def _cost(sat: Sat, order: Order, units: tuple[Unit, ...], use: dict[str, dict[Route, Literal]]) -> None:
    """Seconds of the routes; equal ones are told apart by the order of routes and units in the file, not by
    the solver's whims."""
    for u in units:
        for k, (route, literal) in enumerate(use[u.name].items()):
            sat.costs(literal, COST[route.kind] * _SCALE + k)
    if len(units) > _FEW:
        sat.costs(order.inversions(), _INVERSION)
    else:
        for a, b in order.in_file():
            sat.costs(order.earlier(b, a), _INVERSION)


def _keep_hand(
    sat: Sat,
    order: Order,
    held: Unit,
    until: str,
    units: tuple[Unit, ...],
    use: dict[str, dict[Route, Literal]],
) -> None:
    """While a hand holds a part until it is retained, no unit in between uses that hand."""
    sat.any_of([order.earlier(held.name, until)])
    for route, here in use[held.name].items():
        for other in units:
            for r, there in use[other.name].items():
                if other is held or route.last not in r.hands:
                    continue
                outside = [order.earlier(other.name, held.name)]
                outside += [order.earlier(until, other.name)] if other.name != until else []
                sat.any_of([negated(here), negated(there), *outside])
