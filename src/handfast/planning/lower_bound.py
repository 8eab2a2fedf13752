"""A bound that no chart of these elements can beat, one hand at a time or both at once.

The larger of two. Half the sum (for two hands) of the kinematic minima of all elements. And the critical
path: a mate goes home after its own part has been brought there, and after the mates that it is built on are
home. The minimum of an element is its jaw and settling times plus, for each motion, the time its joints need
between the same end points at their speed and acceleration limits with nothing in the way.
"""

from __future__ import annotations

import numpy as np

from handfast.model.element import Element
from handfast.model.mate import Mate
from handfast.planning.workspace import Workspace


def lower_bound(ws: Workspace, elements: tuple[Element, ...], mates: tuple[Mate, ...]) -> float:
    """The bound [s] for the mates done with these elements, in the order of time."""
    working = [e for e in elements if e.kind not in ("hold", "delay")]
    total = sum(_minimum(ws, e) for e in working)
    home: dict[str, float] = {}
    for mate in mates:
        own = [e for e in working if e.mate == mate.name]
        brings, joins = _split(own)
        after = max((home[m] for m in _earlier(mate, mates) if m in home), default=0.0)
        home[mate.name] = max(after, _brought(ws, brings, joins)) + sum(_minimum(ws, e) for e in joins)
    return max(max(home.values(), default=0.0), total / len(ws.hands))


def _split(own: list[Element]) -> tuple[list[Element], list[Element]]:
    """Elements that bring a part, and those that join it; what follows the joining is left out."""
    joins = [e for e in own if e.kind == "assemble" or (e.kind == "use" and not e.target.startswith("tool."))]
    first = next((i for i, e in enumerate(own) if e in joins), len(own))
    return own[:first], joins


def _brought(ws: Workspace, brings: list[Element], joins: list[Element]) -> float:
    """How soon the hand that joins a part can have the part before its mate: each hand does its own elements
    one
    after another, and takes a part from another hand no sooner than that one has brought it."""
    ready: dict[str, float] = {}
    for e in brings:
        start = ready.get(e.hand, 0.0)
        if e.kind == "grasp" and e.target.startswith("hand."):
            start = max(start, ready.get(e.target.removeprefix("hand."), 0.0))
        ready[e.hand] = start + _minimum(ws, e)
    return max((ready.get(e.hand, 0.0) for e in joins[:1]), default=0.0)


def _earlier(mate: Mate, mates: tuple[Mate, ...]) -> set[str]:
    """Mates that must be done before this one can end: it is built on their parts, or says so."""
    parts = set(mate.joined)
    return {m.name for m in mates if m.part in parts} | set(mate.needs)


def _minimum(ws: Workspace, e: Element) -> float:
    chain = ws.hands[e.hand].chain
    total = e.duration_s - sum(m.duration for m in e.motions)
    for motion in e.motions:
        if motion.path == "line":
            total += motion.duration  # its speed is a process value
            continue
        way = np.abs(np.array(motion.q[-1]) - np.array(motion.q[0]))
        ramp = way >= chain.velocity**2 / chain.acceleration
        times = np.where(
            ramp,
            way / chain.velocity + chain.velocity / chain.acceleration,
            2 * np.sqrt(way / chain.acceleration),
        )
        total += float(times.max())
    return total
