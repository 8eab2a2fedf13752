"""Routes that no arm can reach, whatever is done before: told before the search begins."""

from __future__ import annotations

import numpy as np

from handfast.mates.grasps import grasps
from handfast.mates.home import assembled_poses
from handfast.mates.subassemblies import stands_on
from handfast.model.grasp import Grasp
from handfast.planning.clause import Clause
from handfast.planning.failure import Failure
from handfast.planning.pick import grip_poses
from handfast.planning.route import Route
from handfast.planning.station import from_shoulder, out_of_reach, reachable
from handfast.planning.unit import Unit
from handfast.planning.workspace import Workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array


def too_far(
    ws: Workspace, units: tuple[Unit, ...], routes: dict[str, tuple[Route, ...]]
) -> tuple[list[Clause], dict[tuple[str, Route], list[Failure]]]:
    """Clauses for routes whose hands reach the part with no grasp where it lies or where it goes, and the
    failures by unit and route. A direct route needs one grasp for both."""
    state = ws.start()
    home = assembled_poses(ws.project.product)
    product = ws.project.product
    clauses: list[Clause] = []
    failures: dict[tuple[str, Route], list[Failure]] = {}
    for unit in units:
        if unit.tool is not None:
            continue
        part, stands = unit.parts[0], unit.mates[0].stands
        starts = {h: _reached(ws, h, part, ws.pose(state, part)) for h in ws.hands}
        if stands is not None and stands.startswith("hand."):  # where a hand will hold it is not known yet
            T_world_home, ends = None, {h: np.ones_like(starts[h]) for h in ws.hands}
        else:
            root = stands_on(product, unit.mates[0])
            T_root_part = home[part] if root == product.base else se3.inverse(home[root]) @ home[part]
            T_world_root = ws.pose(state, root) if stands is None else ws.parent_pose(state, stands)
            T_world_home = T_world_root @ T_root_part
            ends = {h: _reached(ws, h, part, T_world_home) for h in ws.hands}
        for route in routes[unit.name]:
            at_start, at_end = starts[route.hands[0]], ends[route.last]
            both = (at_start & at_end).any() if route.kind == "direct" else at_start.any() and at_end.any()
            if both or not (len(at_start) and len(at_end)):
                continue  # a gripper that has no grasp at all is told when the route is tried
            clauses.append(Clause(unit.name, route, frozenset(), True))
            if at_start.any() and T_world_home is not None:
                found = _far(ws, route.last, part, T_world_home, at_end, "place")
            else:
                found = _far(ws, route.hands[0], part, ws.pose(state, part), at_start, "pick")
            failures[unit.name, route] = found
    return clauses, failures


def _every(ws: Workspace, hand: str, part: str) -> tuple[Grasp, ...]:
    item = ws.items[part]
    return grasps(ws.hands[hand].gripper, part, item.features, item.mass, item.friction)


def _reached(ws: Workspace, hand: str, part: str, T_world_part: Array) -> np.ndarray:
    """Which grasps of the hand's gripper reach the part there, one truth a grasp."""
    every = _every(ws, hand, part)
    if not every:
        return np.zeros(0, dtype=bool)
    return reachable(ws.hands[hand], grip_poses(T_world_part, every))


def _far(
    ws: Workspace, hand: str, part: str, T_world_part: Array, reached: np.ndarray, stage: str
) -> list[Failure]:
    """A failure for each grasp that does not reach the part there."""
    text, every = f"{hand} hand to {part}", _every(ws, hand, part)
    grips = grip_poses(T_world_part, every)
    far = from_shoulder(ws.hands[hand], grips).tolist()
    return [
        out_of_reach(ws.hands[hand], grips[k], text, (stage, hand, part, k), far[k])
        for k in range(len(every))
        if not reached[k]
    ]
