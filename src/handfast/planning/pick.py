"""Picking up an item from where it lies."""

from __future__ import annotations

import numpy as np

from handfast.model.grasp import Grasp
from handfast.planning.clear_line import Allowed, blocked
from handfast.planning.connect import connect, roomy
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg, element
from handfast.planning.state import State
from handfast.planning.station import line_motion, stations
from handfast.planning.workspace import Workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array

APPROACH = 0.06  # length of the straight line onto a grasp [m]
LIFTS = (0.06, 0.1)  # straight up from where an item lies [m]
_GAP = 0.008  # how much wider than the item each side of the jaws stands for the approach [m]
_UP = np.array([0.0, 0.0, 1.0])


def open_width(ws: Workspace, hand: str, grasp: Grasp) -> float:
    """How wide the jaws stand for approach and retreat [m]."""
    return min(ws.hands[hand].gripper.opening[1], grasp.width + 2 * _GAP)


def grip_pose(T_world_item: Array, grasp: Grasp) -> Array:
    """T_world_grip that holds an item standing at T_world_item."""
    return np.asarray(T_world_item @ se3.inverse(grasp.T_grip_part.matrix))


def backed(T_world_grip: Array, length: float) -> Array:
    """A grip pose drawn back along the hand's own z [m]."""
    return np.asarray(T_world_grip @ se3.translation(0, 0, -length))


def pick_blocked(ws: Workspace, state: State, hand: str, item: str, grasp: Grasp) -> Failure | float:
    """Exact test of approach and lift, whatever arm branch carries them out: the lift height [m], or what blocks."""
    T_grip = grip_pose(ws.pose(state, item), grasp)
    opened = state.opened(hand, open_width(ws, hand, grasp))
    hit = blocked(ws.moving(opened, hand), ws.standing(opened, hand), T_grip, -APPROACH * T_grip[:3, 2], memo=ws.memo)
    if hit is not None:
        return Failure("collision at grasp", f"{hit.moving} on {hit.standing} reaching {item}", hit.short_by, hit.standing)
    held = closed_on(state, hand, item, grasp)
    hit = blocked(ws.moving(held, hand), ws.standing(held, hand), T_grip, LIFTS[0] * _UP, _leaves(ws, state, item), memo=ws.memo)
    if hit is not None:
        return Failure("collision at grasp", f"{hit.moving} on {hit.standing} lifting {item}", hit.short_by, hit.standing)
    return LIFTS[0]


def closed_on(state: State, hand: str, item: str, grasp: Grasp) -> State:
    """The state with the jaws closed on an item."""
    return state.attached(item, f"hand.{hand}", grasp.T_grip_part.matrix).opened(hand, grasp.width)


def _leaves(ws: Workspace, state: State, item: str) -> Allowed:
    kind, _, name = state.scene.of(item).parent.partition(".")
    return frozenset({(item, f"holder {name.partition('.')[0]}")}) if kind == "place" else frozenset({(item, name)})


def pick(ws: Workspace, leg: Leg, hand: str, item: str, grasp: Grasp, mate: str, seed: int) -> list[Leg | Failure]:
    """Reach and grasp an item; the lift stays pending. One leg for each arm branch that works, or failures."""
    state = leg.state
    lift = pick_blocked(ws, state, hand, item, grasp)
    if isinstance(lift, Failure):
        return [lift]
    h, speed = ws.hands[hand], ws.project.cell.controller.line_speed
    T_grip = grip_pose(ws.pose(state, item), grasp)
    out: list[Leg | Failure] = []
    opened = state.opened(hand, open_width(ws, hand, grasp))
    for height in LIFTS:
        lifted = T_grip.copy()
        lifted[:3, 3] += height * _UP
        grips = [backed(T_grip, APPROACH), T_grip, lifted]
        for lines in stations(ws, opened, hand, grips, state.q[hand]):
            if isinstance(lines, Failure):
                out.append(lines)
                continue
            held = closed_on(opened.moved(hand, lines[1][-1]), hand, item, grasp)
            tight = roomy(ws, opened, hand, lines[0][0]) or roomy(ws, held, hand, lines[1][-1])
            free = tight or connect(ws, opened, hand, lines[0][0], seed)
            if isinstance(free, Failure):
                out.append(free)
                continue
            approach = line_motion(h, lines[0], grips[0], grips[1], speed)
            up = line_motion(h, lines[1], grips[1], grips[2], speed)
            reach = element("reach", hand, item, f"{_where(state, item)}", mate, (free, approach),
                            opening=opened.widths[hand])  # fmt: skip
            close = element("grasp", hand, item, f"{_where(state, item)}", mate, before=h.gripper.close_time, grasp=grasp)
            out.insert(0, leg.then(held, reach, close, pending=(up,)))
            return out
    return out


def _where(state: State, item: str) -> str:
    return state.scene.of(item).parent
