"""Putting down what a hand holds: a part on a set-down, a tool on its stand."""

from __future__ import annotations

import numpy as np

from handfast.model.grasp import Grasp
from handfast.planning.clear_line import blocked
from handfast.planning.connect import connect, roomy
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg, element
from handfast.planning.pick import APPROACH, LIFTS, backed, grip_pose, open_width
from handfast.planning.station import line_motion, stations
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

_UP = np.array([0.0, 0.0, 1.0])


def put(
    ws: Workspace, leg: Leg, hand: str, grasp: Grasp, parent: str, T_parent_item: Array, mate: str, seed: int
) -> list[Leg | Failure]:
    """Set the held item straight down at T_parent_item on a place, let go and draw back. The first leg, or failures."""
    state, h, controller, item = leg.state, ws.hands[hand], ws.project.cell.controller, grasp.item
    holder = f"holder {parent.split('.')[1]}"
    T_grip = grip_pose(ws.parent_pose(state, parent) @ T_parent_item, grasp)
    width = open_width(ws, hand, grasp)
    left = state.attached(item, parent, T_parent_item).opened(hand, width)
    hit = blocked(ws.moving(state, hand), ws.standing(state, hand), T_grip, LIFTS[0] * _UP, frozenset({(item, holder)}),
                  memo=ws.memo)  # fmt: skip
    hit = hit or blocked(ws.moving(left, hand), ws.standing(left, hand), T_grip, -APPROACH * T_grip[:3, 2], memo=ws.memo)
    if hit is not None:
        return [Failure("no place to set down", f"{hit.moving} on {hit.standing}", hit.short_by, hit.standing)]
    out: list[Leg | Failure] = []
    for height in LIFTS:
        above = T_grip.copy()
        above[:3, 3] += height * _UP
        grips = [above, T_grip, backed(T_grip, APPROACH)]
        for lines in stations(ws, state, hand, grips, state.q[hand]):
            if isinstance(lines, Failure):
                out.append(lines)
                continue
            after = left.moved(hand, lines[1][-1])
            free = roomy(ws, state, hand, lines[0][0]) or roomy(ws, after, hand, lines[1][-1]) or connect(
                ws, state, hand, lines[0][0], seed)  # fmt: skip
            if isinstance(free, Failure):
                out.append(free)
                continue
            down = line_motion(h, lines[0], grips[0], grips[1], controller.line_speed)
            back = line_motion(h, lines[1], grips[1], grips[2], controller.line_speed)
            move = element("move", hand, item, parent, mate, leg.with_pending(free))
            position = element("position", hand, item, parent, mate, (down,))
            release = element("release", hand, item, parent, mate, (back,), before=h.gripper.close_time,
                              opening=width, leaves=after.scene.of(item))  # fmt: skip
            return [leg.then(after, move, position, release), *out]
    return out
