"""A bound that no chart of these elements can beat.

The larger of the critical path at kinematic minima and half the summed per-mate minima. The minimum of an
element is its jaw and settling times plus, for each motion, the time its joints need between the same end
points at their speed and acceleration limits with nothing in the way.
"""

from __future__ import annotations

import numpy as np

from handfast.model.element import Element
from handfast.model.mate import Mate
from handfast.planning.workspace import Workspace


def lower_bound(ws: Workspace, elements: tuple[Element, ...], mates: tuple[Mate, ...]) -> float:
    """The bound [s] for the mates done with these elements."""
    least = {m.name: 0.0 for m in mates}
    for e in elements:
        if e.mate in least and e.kind not in ("hold", "delay"):
            least[e.mate] += _minimum(ws, e)
    path: dict[str, float] = {}
    for mate in mates:
        after = [path[m] for m in _earlier(mate, mates) if m in path]
        path[mate.name] = least[mate.name] + max(after, default=0.0)
    return max(max(path.values(), default=0.0), sum(least.values()) / len(ws.hands))


def _earlier(mate: Mate, mates: tuple[Mate, ...]) -> set[str]:
    """Mates that must be done before this one can end: it is built on their parts, or says so."""
    parts = {mate.into, *(p.fixed_part for p in mate.pairs), *mate.clamps}
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
