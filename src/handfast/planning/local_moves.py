"""Sequences a small step away from another: one unit by another route, or at another place in the order."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from handfast.model.element import Element
from handfast.planning.leg import Leg
from handfast.planning.master import Clause
from handfast.planning.precedences import handles
from handfast.planning.route import COST, Route
from handfast.planning.stuck import Step
from handfast.planning.unit import Unit, needs, retained_by, routes_of

Steps = tuple[Step, ...]


def moves(
    units: tuple[Unit, ...],
    hands: tuple[str, ...],
    set_downs: bool,
    clauses: tuple[Clause, ...],
    steps: Steps,
    order_given: bool,
) -> Iterator[Steps]:
    """The sequences one move away that nothing known forbids: another hand or route for a unit, or a unit
    earlier or later."""
    by_name = {u.name: u for u in units}
    for i, (name, route) in enumerate(steps):
        for other in routes_of(by_name[name], hands, set_downs):
            if other != route:
                yield from _allowed(by_name, clauses, (*steps[:i], (name, other), *steps[i + 1 :]))
    for i in range(0 if order_given else len(steps)):
        rest = (*steps[:i], *steps[i + 1 :])
        for k in range(len(steps)):
            if k not in (i, i - 1):  # one back is the same as the one before it one forward
                yield from _allowed(by_name, clauses, (*rest[:k], steps[i], *rest[k:]))


def keeps_the_order(units: tuple[Unit, ...], steps: Steps, order_given: bool) -> bool:
    """Whether a sequence keeps to what has to come before what, and to the order of the file if that is
    given."""
    place = {name: i for i, (name, _) in enumerate(steps)}
    if order_given and [place[u.name] for u in units] != sorted(place.values()):
        return False
    return any(True for _ in _allowed({u.name: u for u in units}, (), steps))


def _allowed(by_name: dict[str, Unit], clauses: tuple[Clause, ...], steps: Steps) -> Iterator[Steps]:
    units = tuple(by_name.values())
    done: set[str] = set()
    held: dict[str, str] = {}  # the hand that holds a part, by the unit that retains it
    for name, route in steps:
        if not needs(by_name[name], units) <= done or set(held.values()) & set(route.hands):
            return
        for c in clauses:
            if (c.unit, c.route) == (name, route) and c.present <= done and not c.absent & done:
                return
        held.pop(name, None)
        until = retained_by(by_name[name], units)
        if until is not None:
            if until in done:
                return
            held[until] = route.last
        done.add(name)
    yield steps


def reckoned(leg: Leg, units: tuple[Unit, ...], old: Steps, new: Steps, together: bool) -> float:
    """Roughly how long a sequence takes [s], with the elements of another: each hand does its own in order,
    and one waits for the other where both handle the same thing, or are at work on what is being built; or
    always, if not together."""
    names = {m.name: u.name for u in units for m in u.mates}
    own: dict[str, list[Element]] = {u.name: [] for u in units}
    for e in leg.elements:
        if e.mate in names and e.target != "home":
            own[names[e.mate]].append(e)
    routes, clock, free = dict(old), dict[str, float](), dict[str, float]()
    for name, route in new:
        for e in _by_route(own[name], routes[name], route):
            things = handles(e) | ({"work"} if _at_work(e) or not together else set())
            start = max([clock.get(e.hand, 0.0), *(free.get(t, 0.0) for t in things)])
            clock[e.hand] = start + e.duration_s
            until = start + (e.before_s if e.kind == "release" else e.duration_s)
            free |= {t: max(until, free.get(t, 0.0)) for t in things}
        more = max(0, COST[route.kind] - COST[routes[name].kind])
        clock |= {hand: clock.get(hand, 0.0) + more for hand in route.hands}
    return max(clock.values(), default=math.inf)


def _by_route(elements: list[Element], old: Route, new: Route) -> list[Element]:
    """The elements of one route by the hands of another."""
    hand = dict(zip(old.hands, new.hands, strict=False)) | {old.last: new.last}
    return [replace(e, hand=hand.get(e.hand, e.hand)) for e in elements]


def _at_work(e: Element) -> bool:
    """Whether it is done on what is being built, where there is room for one hand."""
    return e.kind in ("position", "assemble", "use", "release") and not e.target.startswith(
        ("place.", "hand.", "tool.")
    )
