"""Picking up an item from where it lies."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from handfast.model.grasp import Grasp
from handfast.planning.arrive import arrivals
from handfast.planning.clear_line import Allowed, blocked
from handfast.planning.failure import Failure, of_candidate
from handfast.planning.jaws import jaws_cut, members_cut
from handfast.planning.leg import Leg, element
from handfast.planning.old_choices import driven_first
from handfast.planning.state import State
from handfast.planning.station import Lines
from handfast.planning.workspace import Workspace
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

APPROACH = 0.06  # length of the straight line onto a grasp [m]
LIFTS = (0.06, 0.1)  # straight up from where an item lies [m]
_UP = np.array([0.0, 0.0, 1.0])


def open_width(ws: Workspace, hand: str, grasp: Grasp) -> float:
    """How wide the jaws stand for approach and retreat [m]."""
    gripper = ws.hands[hand].gripper
    return min(gripper.opening[1], grasp.width + 2 * gripper.gap)


def grip_pose(T_world_item: Array, grasp: Grasp) -> Array:
    """T_world_grip that holds an item standing at T_world_item."""
    return np.asarray(T_world_item @ _inverse(grasp.T_grip_part))


def grip_poses(T_world_item: Array, every: tuple[Grasp, ...]) -> Array:
    """The same of many grasps, and of an item at one or several places (..., 4, 4): (grasps, ..., 4, 4)."""
    held = se3.inverse(np.array([g.T_grip_part.matrix for g in every]).reshape(-1, 4, 4))
    places = np.asarray(T_world_item)
    return np.asarray(places @ held.reshape(-1, *[1] * (places.ndim - 2), 4, 4))


@lru_cache(maxsize=16384)
def _inverse(pose: Pose) -> Array:
    return se3.inverse(pose.matrix)


def backed(T_world_grip: Array, length: float) -> Array:
    """A grip pose drawn back along the hand's own z [m]."""
    return np.asarray(T_world_grip @ se3.translation(0, 0, -length))


def pick_blocked(
    ws: Workspace, state: State, hand: str, item: str, grasp: Grasp, without_hand: str | None = None
) -> Failure | None:
    """Exact test of approach and lift, whatever arm branch carries them out: what blocks, or None.
    without_hand: another hand that is not looked at."""
    cut = jaws_cut(ws, hand, grasp) or members_cut(ws, ws.group(state, item), hand, grasp)
    if cut is not None:
        return Failure(
            "collision at grasp", f"jaws of {cut.moving} closing on {item}", cut.short_by, cut.standing
        )
    T_grip = grip_pose(ws.pose(state, item), grasp)
    opened = state.opened(hand, open_width(ws, hand, grasp))
    hit = blocked(
        ws.moving(opened, hand),
        ws.standing(opened, hand, without_hand),
        T_grip,
        -APPROACH * T_grip[:3, 2],
        memo=ws.memo,
    )
    if hit is not None:
        return Failure(
            "collision at grasp",
            f"{hit.moving} on {hit.standing} reaching {item}",
            hit.short_by,
            hit.standing,
        )
    held = closed_on(state, hand, item, grasp)
    hit = blocked(
        ws.moving(held, hand),
        ws.standing(held, hand, without_hand),
        T_grip,
        LIFTS[0] * _UP,
        _leaves(ws, state, item),
        memo=ws.memo,
    )
    if hit is not None:
        return Failure(
            "collision at grasp", f"{hit.moving} on {hit.standing} lifting {item}", hit.short_by, hit.standing
        )
    return None


def closed_on(state: State, hand: str, item: str, grasp: Grasp) -> State:
    """The state with the jaws closed on an item."""
    return state.attached(item, f"hand.{hand}", grasp.T_grip_part.matrix).opened(hand, grasp.width)


def _leaves(ws: Workspace, state: State, item: str) -> Allowed:
    kind, _, name = state.scene.of(item).parent.partition(".")
    return (
        frozenset({(item, f"holder {name.partition('.')[0]}")})
        if kind == "place"
        else frozenset({(item, name)})
    )


def pick_grips(T_grip: Array, height: float = LIFTS[0]) -> list[Array]:
    """Grip poses of a pick: before the grasp, at it, lifted."""
    lifted = T_grip.copy()
    lifted[:3, 3] += height * _UP
    return [backed(T_grip, APPROACH), T_grip, lifted]


def pick(
    ws: Workspace, leg: Leg, hand: str, item: str, grasp: Grasp, mate: str, seed: int
) -> Iterator[Leg | Failure]:
    """Legs that reach and grasp an item, one for each arm branch that works; the lift stays pending."""
    where = leg.state.scene.of(item)
    yield from of_candidate(_picked(ws, leg, hand, item, grasp, mate, seed), "pick up", hand, where, grasp)


def _picked(
    ws: Workspace, leg: Leg, hand: str, item: str, grasp: Grasp, mate: str, seed: int
) -> Iterator[Leg | Failure]:
    state = leg.state
    blocks = pick_blocked(ws, state, hand, item, grasp)
    if blocks is not None:
        yield blocks
        return
    speed = ws.project.cell.controller.line_speed
    T_grip, where = grip_pose(ws.pose(state, item), grasp), state.scene.of(item).parent
    opened = state.opened(hand, open_width(ws, hand, grasp))
    for grips in driven_first(ws.old, hand, [pick_grips(T_grip, height) for height in LIFTS]):

        def held(lines: Lines) -> State:
            return closed_on(opened.moved(hand, lines[1][-1]), hand, item, grasp)

        for way in arrivals(ws, opened, hand, grips, (speed, speed), seed, held):
            if isinstance(way, Failure):
                yield way
                continue
            free, (approach, lift), lines = way
            reach = element("reach", hand, item, where, mate, (free, approach), opening=opened.widths[hand])
            close = ws.hands[hand].gripper.close_time
            grip = element("grasp", hand, item, where, mate, before=close, grasp=grasp)
            yield leg.then(held(lines), reach, grip, pending=(lift,))
