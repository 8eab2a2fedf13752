"""A bound that no chart of these elements can beat, one hand at a time or both at once.

The largest of three. Half the sum (for two hands) of the kinematic minima of all elements. The critical
path: a mate goes home after its own part has been brought there, and after the mates that it is built on are
home. And both of these about each mate: what has to be done before it is home, shared by the hands; and
after it all that one hand has yet to join and needs it for, save what that hand can have got ready: it holds
one thing at a time.

The minimum of an element is its jaw and settling times plus, for each motion, the time its joints need
between the same end points at their speed and acceleration limits with nothing in the way.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from handfast.kinematics.chain import Chain
from handfast.mates.subassemblies import built_there, done_first
from handfast.model.element import Element
from handfast.model.mate import Mate
from handfast.model.product import Product
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

Least = Callable[[Element], float]
"""The kinematic minimum of an element [s]."""


@dataclass(frozen=True, slots=True)
class _Work:
    """One mate's elements: what brings its part, what joins it, and what follows the first of these. Trips
    home in between are left out: another chart may do without."""

    brings: list[Element]
    joins: list[Element]
    follows: list[Element]


def lower_bound(ws: Workspace, elements: tuple[Element, ...], mates: tuple[Mate, ...]) -> float:
    """The bound [s] for the mates done with these elements, in the order of time."""
    working = [e for e in elements if e.kind not in ("hold", "delay")]
    known = {id(e): _minimum(ws, e) for e in working}

    def least(e: Element) -> float:
        return known[id(e)]

    works = {m.name: _split([e for e in working if e.mate == m.name]) for m in mates}
    needed = {m.name: _needed(ws.project.product, m, mates) for m in mates}
    home: dict[str, float] = {}
    for mate in mates:
        own = works[mate.name]
        after = max((home[m] for m in needed[mate.name] if m in home), default=0.0)
        home[mate.name] = max(after, _brought(least, own.brings, own.joins)) + _sum(least, own.joins)
    shares = [_sum(least, working) / len(ws.hands)]
    for name in home:
        # In the order of the mates: that of a set changes from run to run, and with it the sum's last digit.
        first = [works[m] for m in works if m in needed[name] or m == name]
        before = _work_before(least, first) / len(ws.hands)
        later = [works[m] for m in works if name in needed[m] and works[m].joins]
        after = max((_hand_after(least, hand, later, working) for hand in ws.hands), default=0.0)
        shares.append(max(home[name], before) + after)
    return max(shares)


def _split(own: list[Element]) -> _Work:
    joins = [e for e in own if e.kind == "assemble" or (e.kind == "use" and not e.target.startswith("tool."))]
    first = next((i for i, e in enumerate(own) if e in joins), len(own))
    brings, follows = ([e for e in some if e.target != "home"] for some in (own[:first], own[first + 1 :]))
    return _Work(brings, joins, follows)


def _needed(product: Product, mate: Mate, mates: tuple[Mate, ...]) -> set[str]:
    """Mates that must be done before this one can end: it is built on their parts, or says so; and what those
    need."""
    parts = set(mate.joined)
    direct = {m.name for m in mates if m is not mate and m.part in parts} - built_there(product, mate)
    direct |= set(mate.needs) | done_first(product, mate)
    return direct.union(*(_needed(product, m, mates) for m in mates if m.name in direct))


def _brought(least: Least, brings: list[Element], joins: list[Element]) -> float:
    """How soon the hand that joins a part can have the part before its mate: each hand does its own elements
    one after another, and takes a part from another hand no sooner than that one has brought it."""
    ready: dict[str, float] = {}
    for e in brings:
        start = ready.get(e.hand, 0.0)
        if e.kind == "grasp" and e.target.startswith("hand."):
            start = max(start, ready.get(e.target.removeprefix("hand."), 0.0))
        ready[e.hand] = start + least(e)
    return max((ready.get(e.hand, 0.0) for e in joins[:1]), default=0.0)


def _work_before(least: Least, works: list[_Work]) -> float:
    """The least work [s] of all hands until these mates are home. Letting go counts too, but for the longest
    of each hand: it may still be at it."""
    letting_go: dict[str, list[float]] = {}
    for work in works:
        for e in work.follows:
            if e.kind == "release" and work.joins[0].kind == "assemble":
                letting_go.setdefault(e.hand, []).append(least(e))
    done = sum(_sum(least, work.brings) + _sum(least, work.joins) for work in works)
    return done + sum(sum(times) - max(times) for times in letting_go.values())


def _hand_after(least: Least, hand: str, later: list[_Work], working: list[Element]) -> float:
    """The least time [s] that one hand needs from the moment that these mates can be joined: all that it
    joins of them, but for one tool fetched and one part got ready; then it goes home."""
    total, fetched, got_ready = 0.0, 0.0, 0.0
    for work in later:
        if work.joins[0].hand != hand:
            continue
        fetch, ready = _readied([e for e in work.brings if e.hand == hand], work.joins[0])
        after = [*work.joins[:1], *(e for e in work.follows if e.hand == hand)]
        total += _sum(least, [*fetch, *ready, *after])
        fetched, got_ready = max(fetched, _sum(least, fetch)), max(got_ready, _sum(least, ready))
    if not total:
        return 0.0
    return total - fetched - got_ready + _sum(least, [e for e in working if e.hand == hand and not e.mate])


def _readied(mine: list[Element], join: Element) -> tuple[list[Element], list[Element]]:
    """Of what a hand does to bring a part: fetching the tool, and the rest from where it takes the part to
    keep it (what it put down before may have been done long ago)."""
    last = max((i + 1 for i, e in enumerate(mine) if e.kind == "release"), default=0)
    if join.kind != "use":
        return [], mine[last:]
    tool = next((i + 1 for i, e in enumerate(mine) if e.kind == "grasp"), 0)
    return mine[:tool], mine[tool:]


def _sum(least: Least, elements: list[Element]) -> float:
    return sum(map(least, elements))


def _minimum(ws: Workspace, e: Element) -> float:
    chain = ws.hands[e.hand].chain
    total = e.duration_s - sum(m.duration for m in e.motions)
    for motion in e.motions:
        if motion.path == "line":
            total += motion.duration  # its speed is a process value
            continue
        way = np.abs(np.array(motion.q[-1]) - np.array(motion.q[0]))
        total += float(least_time(chain, way))
    return total


def least_time(chain: Chain, way: Array) -> Array:
    """Of joint motions from rest to rest that turn each joint by `way` (..., n) [rad], in order [s]."""
    v, a = chain.velocity, chain.acceleration
    return np.asarray(np.where(way >= v**2 / a, way / v + v / a, 2 * np.sqrt(way / a)).max(axis=-1))
