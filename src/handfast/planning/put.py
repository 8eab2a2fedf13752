"""Putting down what a hand holds: a part on a set-down, a tool on its stand."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from handfast.model.grasp import Grasp
from handfast.planning.arrive import arrivals
from handfast.planning.clear_line import blocked
from handfast.planning.failure import Failure, of_candidate
from handfast.planning.leg import Leg, element
from handfast.planning.old_choices import driven_first
from handfast.planning.pick import APPROACH, LIFTS, backed, grip_pose, open_width
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

_UP = np.array([0.0, 0.0, 1.0])


def put(
    ws: Workspace, leg: Leg, hand: str, grasp: Grasp, parent: str, T_parent_item: Array, mate: str, seed: int
) -> Iterator[Leg | Failure]:
    """Legs that set the held item straight down at T_parent_item on a place, let go and draw back."""
    down = _put_down(ws, leg, hand, grasp, parent, T_parent_item, mate, seed)
    yield from of_candidate(down, "put down", hand, grasp, parent, T_parent_item.round(6).tobytes())


def _put_down(
    ws: Workspace, leg: Leg, hand: str, grasp: Grasp, parent: str, T_parent_item: Array, mate: str, seed: int
) -> Iterator[Leg | Failure]:
    state, item, speed = leg.state, grasp.item, ws.project.cell.controller.line_speed
    holder = f"holder {parent.split('.')[1]}"
    T_grip = grip_pose(ws.parent_pose(state, parent) @ T_parent_item, grasp)
    width = open_width(ws, hand, grasp)
    left = state.attached(item, parent, T_parent_item).opened(hand, width)
    allowed = frozenset({(item, holder)})
    hit = blocked(
        ws.moving(state, hand), ws.standing(state, hand), T_grip, LIFTS[0] * _UP, allowed, memo=ws.memo
    )
    hit = hit or blocked(
        ws.moving(left, hand), ws.standing(left, hand), T_grip, -APPROACH * T_grip[:3, 2], memo=ws.memo
    )
    if hit is not None:
        yield Failure("no place to set down", f"{hit.moving} on {hit.standing}", hit.short_by, hit.standing)
        return
    for grips in driven_first(ws.old, hand, [_put_grips(T_grip, height) for height in LIFTS]):
        for way in arrivals(
            ws, state, hand, grips, (speed, speed), seed, lambda lines: left.moved(hand, lines[1][-1])
        ):
            if isinstance(way, Failure):
                yield way
                continue
            free, (down, back), lines = way
            move = element("move", hand, item, parent, mate, leg.with_pending(free))
            position = element("position", hand, item, parent, mate, (down,))
            release = element(
                "release",
                hand,
                item,
                parent,
                mate,
                (back,),
                opening=width,
                before=ws.hands[hand].gripper.close_time,
                leaves=left.scene.of(item),
            )
            yield leg.then(left.moved(hand, lines[1][-1]), move, position, release)


def _put_grips(T_grip: Array, height: float) -> list[Array]:
    """Grip poses above, down, and drawn back."""
    above = T_grip.copy()
    above[:3, 3] += height * _UP
    return [above, T_grip, backed(T_grip, APPROACH)]
