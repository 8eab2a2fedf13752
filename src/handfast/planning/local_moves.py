"""Sequences a small step away from another: one unit by another route, or at another place in the order."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from handfast.model.element import Element
from handfast.planning.clause import Clause
from handfast.planning.leg import Leg
from handfast.planning.precedences import handles
from handfast.planning.route import COST
from handfast.planning.stuck import Step
from handfast.planning.unit import Unit, all_needs, retained_by, routes_of

Steps = tuple[Step, ...]
_MOVES = 1500  # to another place in the order that are looked at, about
_FEW_PLACES = 5


def moves(
    units: tuple[Unit, ...],
    hands: tuple[str, ...],
    set_downs: bool,
    clauses: tuple[Clause, ...],
    steps: Steps,
    order_given: bool,
) -> Iterator[Steps]:
    """The sequences one move away that nothing known forbids: another hand or route for a unit, or a unit
    earlier or later. Of many units each is moved by a few places only."""
    by_name, rules = {u.name: u for u in units}, _Rules(units, clauses)
    for i, (name, route) in enumerate(steps):
        for other in routes_of(by_name[name], hands, set_downs):
            if other != route:
                yield from rules.kept((*steps[:i], (name, other), *steps[i + 1 :]))
    far = max(_FEW_PLACES, _MOVES // max(1, 2 * len(steps)))
    for i in range(0 if order_given else len(steps)):
        rest = (*steps[:i], *steps[i + 1 :])
        for k in range(max(0, i - far), min(len(steps), i + far + 1)):
            if k not in (i, i - 1):  # one back is the same as the one before it one forward
                yield from rules.kept((*rest[:k], steps[i], *rest[k:]))


def keeps_the_order(units: tuple[Unit, ...], steps: Steps, order_given: bool) -> bool:
    """Whether a sequence keeps to what has to come before what, and to the order of the file if that is
    given."""
    place = {name: i for i, (name, _) in enumerate(steps)}
    if order_given and [place[u.name] for u in units] != sorted(place.values()):
        return False
    return any(True for _ in _Rules(units, ()).kept(steps))


class _Rules:
    """What any sequence has to keep to, looked up once for all."""

    def __init__(self, units: tuple[Unit, ...], clauses: tuple[Clause, ...]) -> None:
        self.needs = all_needs(units)
        self.until = {u.name: retained_by(u, units) for u in units}
        self.clauses: dict[Step, list[Clause]] = {}
        for c in clauses:
            self.clauses.setdefault((c.unit, c.route), []).append(c)

    def kept(self, steps: Steps) -> Iterator[Steps]:
        """The sequence, if it keeps to them."""
        done: set[str] = set()
        held: dict[str, str] = {}  # the hand that holds a part, by the unit that retains it
        for name, route in steps:
            if not self.needs[name] <= done or set(held.values()) & set(route.hands):
                return
            for c in self.clauses.get((name, route), ()):
                if c.present <= done and not c.absent & done:
                    return
            held.pop(name, None)
            until = self.until[name]
            if until is not None:
                if until in done:
                    return
                held[until] = route.last
            done.add(name)
        yield steps


@dataclass(frozen=True, slots=True)
class _Work:
    """What an element takes: its hand, what it handles, how long the hand and how long the things are busy
    [s]."""

    hand: str
    things: frozenset[str]
    lasts: float
    handles: float


class Reckoning:
    """Roughly how long sequences take, with the elements of one that was carried out."""

    def __init__(self, leg: Leg, units: tuple[Unit, ...], steps: Steps, together: bool) -> None:
        """leg: the sequence `steps` carried out; together: whether both hands work at once."""
        names = {m.name: u.name for u in units for m in u.mates}
        self.routes, self.own = dict(steps), {u.name: list[_Work]() for u in units}
        for e in leg.elements:
            if e.mate in names and e.target != "home":
                things = handles(e) | ({"work"} if _at_work(e) or not together else set())
                busy = e.before_s if e.kind == "release" else e.duration_s
                self.own[names[e.mate]].append(_Work(e.hand, frozenset(things), e.duration_s, busy))

    def seconds(self, steps: Steps) -> float:
        """Each hand does its own in order, and one waits for the other where both handle the same thing, or
        are at work on what is being built; or always, if not together [s]."""
        clock, free = dict[str, float](), dict[str, float]()
        for name, route in steps:
            old = self.routes[name]
            other = dict(zip(old.hands, route.hands, strict=False)) | {old.last: route.last}
            for w in self.own[name]:
                hand = other.get(w.hand, w.hand)
                start = clock.get(hand, 0.0)
                for thing in w.things:
                    start = max(start, free.get(thing, 0.0))
                clock[hand] = start + w.lasts
                for thing in w.things:
                    free[thing] = start + w.handles
            more = max(0, COST[route.kind] - COST[old.kind])
            clock |= {hand: clock.get(hand, 0.0) + more for hand in route.hands}
        return max(clock.values(), default=math.inf)


def _at_work(e: Element) -> bool:
    """Whether it is done on what is being built, where there is room for one hand."""
    return e.kind in ("position", "assemble", "use", "release") and not e.target.startswith(
        ("place.", "hand.", "tool.")
    )
