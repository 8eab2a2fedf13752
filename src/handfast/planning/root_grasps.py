"""Grasps of what is built on, with all that is built into it."""

from __future__ import annotations

from handfast.mates.grasps import grasps
from handfast.model.grasp import Grasp
from handfast.planning.failure import Failure
from handfast.planning.pick import grip_pose, pick_blocked
from handfast.planning.sifted import no_grasp
from handfast.planning.state import State
from handfast.planning.station import out_of_reach, reachable
from handfast.planning.workspace import Workspace


def root_grasps(ws: Workspace, state: State, hand: str, root: str) -> tuple[Grasp, ...]:
    """How the hand may hold what is built on, with all that is in it."""
    item = ws.items[root]
    return grasps(ws.hands[hand].gripper, root, item.features, ws.mass(state, root), item.friction)


def pickable(ws: Workspace, state: State, hand: str, root: str) -> tuple[list[Grasp], list[Failure]]:
    """Grasps that reach it where it stands and can lift it, with all that is built into it."""
    every = root_grasps(ws, state, hand, root)
    failures: list[Failure] = []
    if not every:
        failures.append(no_grasp(ws.hands[hand].gripper, root, ws.items[root].features))
    T_root = ws.pose(state, root)
    found = []
    for grasp in every:
        T_grip = grip_pose(T_root, grasp)
        if not reachable(ws.hands[hand], T_grip[None])[0]:
            failures.append(out_of_reach(ws.hands[hand], T_grip, f"{hand} hand to {root}"))
            continue
        blocks = pick_blocked(ws, state, hand, root, grasp)
        if blocks is None:
            found.append(grasp)
        else:
            failures.append(blocks)
    return found, failures
