"""How near a moving hand comes to everything, by exact shapes; the covers that the search uses play no
part."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handfast.geometry.body import body, distance
from handfast.kinematics.forward import forward_links
from handfast.model.motion import Motion
from handfast.motion.timing import at
from handfast.planning.state import State
from handfast.planning.workspace import Workspace

Array = NDArray[np.float64]


def clearance(ws: Workspace, state: State, hand: str, q: Array, enough: float) -> float:
    """Least distance [m] of a hand at q (n,), links, gripper and load, from all that stands still; `enough`
    at most."""
    h = ws.hands[hand]
    links = forward_links(h.chain, q)[0]
    moving = [
        (body(f"link {i}", tuple(s for link, s in h.chain.solids if link == i), h.folder), links[i + 1])
        for i in range(1, h.chain.n + 1)  # the base and the first link stay where they are bolted down
    ]
    moving += [(b, h.grip(q) @ T) for b, T in ws.moving(state, hand)]
    least = enough
    for b, T in moving:
        for other in ws.standing(state, hand).blocks:
            least = min(least, distance(b, T, other.body, other.T_world_body, least))
    return least


def along(ws: Workspace, state: State, hand: str, motion: Motion, enough: float, step: float = 0.01) -> float:
    """The least clearance along a motion, sampled every `step` [s]."""
    times = np.arange(0.0, motion.duration + step, step)
    return min(clearance(ws, state, hand, q, enough) for q in at(motion, times))
