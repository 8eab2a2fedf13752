"""Where two hands meet: in the order of the arms' travel, though only the first few are looked at."""

from __future__ import annotations

from itertools import islice

import numpy as np

from handfast import _kernel
from handfast.kinematics.inverse import inverse
from handfast.mates.grasps import grasps
from handfast.planning.connect import RESOLUTION
from handfast.planning.handover import _grid, meeting_poses
from handfast.planning.pick import APPROACH
from handfast.planning.state import State
from handfast.planning.workspace import Workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array


def travel(ws: Workspace, state: State, hand: str, other: str, T_world_grip: Array) -> float:
    """The least of the joint distances to the branches that have room, one by one."""
    h = ws.hands[hand]
    q, valid = inverse(h.chain, h.tip_for(T_world_grip)[None], state.q[hand])
    world, cover = ws.world(state, hand, without_hand=other), ws.hand_cover(state, hand)
    room = [b for b in q[0][valid[0]] if _kernel.free(cover, world, b[None], ws.margin + RESOLUTION / 2)[0]]
    return min((float(np.abs(b - state.q[hand]).max()) for b in room), default=np.inf)


def test_the_first_poses_are_those_of_least_travel_of_the_whole_grid(workspace: Workspace) -> None:
    start, item = workspace.start(), workspace.items["pin"]
    held = [
        grasps(workspace.hands[h].gripper, "pin", item.features, item.mass, item.friction)
        for h in ("left", "right")
    ]
    a, b = held[0][0], held[1][-1]
    T_a_b = a.T_grip_part.matrix @ se3.inverse(b.T_grip_part.matrix)
    back = se3.translation(0, 0, -APPROACH)
    bases = [tuple(workspace.hands[h].chain.base[:3, 3].tolist()) for h in ("left", "right")]
    grid, cost = _grid(*bases), []
    for T in grid:
        whole = 0.0
        for hand, there in (
            ("left", T),
            ("left", T @ back),
            ("right", T @ T_a_b),
            ("right", T @ T_a_b @ back),
        ):
            other = "right" if hand == "left" else "left"
            whole += travel(workspace, start, hand, other, there) if np.isfinite(whole) else 0.0
        cost.append(whole)
    order = np.argsort(cost, kind="stable")
    assert np.isfinite(np.array(cost)[order[150]])
    found = list(islice(meeting_poses(workspace, "left", a, "right", b, start), 150))
    ours = [int(np.flatnonzero((grid == T).all(axis=(1, 2)))[0]) for T in found]
    np.testing.assert_allclose(np.array(cost)[ours], np.array(cost)[order[:150]], atol=1e-9)
