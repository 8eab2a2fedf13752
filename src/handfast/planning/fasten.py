"""Driving a screw with a powered tool."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.planning.clear_line import blocked
from handfast.planning.connect import connect, roomy
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg, element
from handfast.planning.pick import grip_pose
from handfast.planning.place import CLEAR, GATE, before, goal, touching
from handfast.planning.put import put
from handfast.planning.station import line_motion, stations
from handfast.planning.workspace import Workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.standards.threads import coarse_thread

_ROLLS = 12
_TAKE_UP = 0.3  # time for the bit to find the socket and the vacuum to build up [s]
_TORQUE_UP = 0.5  # a last torque that turns the screw by less than the hand would follow [s]
_OUT = 0.04  # straight line above a screw [m]
_Z = np.array([0.0, 0.0, 1.0])


def socket_frame(ws: Workspace, screw: str) -> Array:
    """T_screw_bit (4, 4) with the bit seated: at the bottom of the screw's drive, z into it.

    Raises KeyError if the screw has no hole that could be its drive.
    """
    drives = [f for f in ws.items[screw].features if f.kind == "hole"]
    if not drives:
        raise KeyError(f"screw {screw!r} has no hole that a bit could drive it by")
    return np.asarray(drives[0].frame.matrix @ se3.translation(0, 0, drives[0].length or 0.0))


def take_up(ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, seed: int) -> list[Leg | Failure]:
    """With the tool in the hand, set the bit into a screw where it waits and lift it out. Lift stays pending."""
    state, h, controller = leg.state, ws.hands[hand], ws.project.cell.controller
    tool = ws.project.cell.tool(grasp.item)
    T_screw_bit = socket_frame(ws, mate.part)
    parent = state.scene.of(mate.part).parent
    holder = f"holder {parent.split('.')[1]}"
    out: list[Leg | Failure] = []
    for roll in np.arange(_ROLLS) * 2 * np.pi / _ROLLS:
        T_bit = ws.pose(state, mate.part) @ T_screw_bit @ se3.rotation(_Z, roll)
        T_grip = grip_pose(T_bit @ se3.inverse(tool.bit.matrix), grasp)
        down = T_bit[:3, 2]
        carried = state.attached(mate.part, f"tool.{tool.name}", se3.inverse(T_screw_bit @ se3.rotation(_Z, roll)))
        hit = blocked(ws.moving(state, hand), ws.standing(state, hand), T_grip, -_OUT * down,
                      frozenset({(tool.name, mate.part)}), memo=ws.memo)  # fmt: skip
        hit = hit or blocked(ws.moving(carried, hand), ws.standing(carried, hand), T_grip, -_OUT * down,
                             frozenset({(mate.part, holder)}), memo=ws.memo)  # fmt: skip
        if hit is not None:
            out.append(Failure("tool does not fit", f"{hit.moving} on {hit.standing} taking up {mate.part}", hit.short_by, hit.standing))
            continue
        grips = [before(T_grip, down, _OUT), before(T_grip, down, GATE), T_grip]
        for lines in stations(ws, state, hand, grips, state.q[hand]):
            if isinstance(lines, Failure):
                out.append(lines)
                continue
            lifted = carried.moved(hand, lines[0][0])
            free = roomy(ws, state, hand, lines[0][0]) or roomy(ws, lifted, hand, lines[0][0]) or connect(
                ws, state, hand, lines[0][0], seed)  # fmt: skip
            if isinstance(free, Failure):
                out.append(free)
                continue
            path = np.concatenate([lines[0], lines[1][1:]])
            approach = line_motion(h, lines[0], grips[0], grips[1], controller.line_speed)
            seat = line_motion(h, lines[1], grips[1], grips[2], controller.insert_speed)
            up = line_motion(h, path[::-1], grips[2], grips[0], controller.line_speed)
            move = element("move", hand, tool.name, mate.part, mate.name, leg.with_pending(free))
            position = element("position", hand, tool.name, mate.part, mate.name, (approach, seat))
            use = element("use", hand, mate.part, f"tool.{tool.name}", mate.name, before=_TAKE_UP,
                          leaves=carried.scene.of(mate.part))  # fmt: skip
            return [leg.then(lifted, move, position, use, pending=(up,)), *out]
    return out


@dataclass(frozen=True, slots=True)
class Round:
    """One turn of the driver on one screw: from `start` to `end` [m] before home; torque [N m] to stop at, if any."""

    start: float
    end: float
    torque: float | None


def whole(ws: Workspace, mate: Mate) -> Round:
    """From the first thread to home in one go."""
    return Round(abs(mate.pairs[0].depth), 0.0, mate.torque)


def drive(ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, turn: Round, seed: int) -> list[Leg | Failure]:
    """Bring the bit, with the screw on it or to the screw in its hole, turn it as far as `turn` says, and draw back."""
    out: list[Leg | Failure] = []
    for roll in np.arange(_ROLLS) * 2 * np.pi / _ROLLS:
        for result in _driven(ws, leg, hand, mate, grasp, turn, float(roll), seed):
            if isinstance(result, Leg):
                return [result, *out]
            out.append(result)
    return out


def _driven(ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, turn: Round, roll: float,
            seed: int) -> Iterator[Leg | Failure]:  # fmt: skip
    state, h, controller = leg.state, ws.hands[hand], ws.project.cell.controller
    tool = ws.project.cell.tool(grasp.item)
    aim = goal(ws, state, mate)
    there = state.scene.of(mate.part)
    carried = there.parent.startswith("tool.")
    T_screw_bit = se3.inverse(there.pose.matrix) if carried else socket_frame(ws, mate.part)
    T_screw = aim.T_world_home @ _about_own_axis(ws, mate, roll) if carried else ws.pose(state, mate.part)
    T_bit_screw = se3.inverse(T_screw_bit @ se3.rotation(_Z, 0.0 if carried else roll))
    if not carried:
        T_screw = before(T_screw, aim.axis, -turn.start)  # where it is at home, so that all poses count from there
    T_grip = grip_pose(T_screw @ se3.inverse(T_bit_screw) @ se3.inverse(tool.bit.matrix), grasp)
    on_bit = state.attached(mate.part, f"tool.{tool.name}", T_bit_screw)
    end_pose = se3.inverse(ws.pose(state, mate.into)) @ before(T_screw, aim.axis, turn.end)
    left = state.attached(mate.part, f"part.{mate.into}", end_pose)
    engage = before(T_grip, aim.axis, turn.start)
    stop = before(T_grip, aim.axis, turn.end)
    top = before(T_grip, aim.axis, turn.start + (CLEAR if carried else _OUT))
    hit = blocked(ws.moving(on_bit, hand), ws.standing(on_bit, hand), stop, engage[:3, 3] - stop[:3, 3], touching(mate),
                  memo=ws.memo)  # fmt: skip
    hit = hit or blocked(ws.moving(state, hand), ws.standing(state, hand), engage, top[:3, 3] - engage[:3, 3],
                         touching(mate) | {(tool.name, mate.part)}, memo=ws.memo)  # fmt: skip
    hit = hit or blocked(ws.moving(left, hand), ws.standing(left, hand), stop, top[:3, 3] - stop[:3, 3],
                         frozenset({(tool.name, mate.part)}), memo=ws.memo)  # fmt: skip
    if hit is not None:
        yield Failure("tool does not fit", f"{hit.moving} on {hit.standing} driving {mate.part}", hit.short_by, hit.standing)
        return
    pitch = coarse_thread(ws.project.product.part(mate.part).feature(mate.pairs[0].moving).thread or "").pitch
    # The hand goes down at the screw's own pace; the spindle gives the turns.
    speed = min(controller.insert_speed, tool.spindle.speed / (2 * math.pi) * pitch)
    grips = [top, before(engage, aim.axis, GATE), engage, stop]
    pair = mate.pairs[0]
    target = f"{pair.fixed_part}.{pair.fixed}"
    for lines in stations(ws, state, hand, grips, state.q[hand]):
        if isinstance(lines, Failure):
            yield lines
            continue
        free = roomy(ws, state, hand, lines[0][0]) or connect(ws, state, hand, lines[0][0], seed)
        if isinstance(free, Failure):
            yield free
            continue
        speeds = (controller.line_speed, controller.insert_speed, speed)
        parts = list(zip(lines, grips[:-1], grips[1:], speeds, strict=True))
        motions = [line_motion(h, q, a, b, v) for q, a, b, v in parts if np.linalg.norm(b[:3, 3] - a[:3, 3]) > 1e-9]
        path = np.concatenate([lines[0], lines[1][1:], lines[2][1:]])
        turning = tuple(motions[2:])
        dwell = 0.0 if turning else _TORQUE_UP
        up = line_motion(h, path[::-1], stop, top, controller.line_speed)
        after = left.moved(hand, lines[0][0])
        yield leg.then(
            after,
            element("move", hand, tool.name, target, mate.name, leg.with_pending(free)),
            element("position", hand, tool.name, target, mate.name, tuple(motions[:2])),
            element("use", hand, mate.part, target, mate.name, turning, before=dwell, torque=turn.torque,
                    turns=(turn.start - turn.end) / pitch * 2 * math.pi, leaves=left.scene.of(mate.part)),
            element("move", hand, tool.name, "clear", mate.name, (up,)),
        )  # fmt: skip
        return


def _about_own_axis(ws: Workspace, mate: Mate, angle: float) -> Array:
    """A turn of the screw about its own thread axis, in the screw's frame."""
    frame = ws.project.product.part(mate.part).feature(mate.pairs[0].moving).frame.matrix
    return np.asarray(frame @ se3.rotation(_Z, angle) @ se3.inverse(frame))


def put_back(ws: Workspace, leg: Leg, hand: str, grasp: Grasp, mate: str, seed: int) -> list[Leg | Failure]:
    """Return the tool to the place it came from and draw back."""
    holder, place = ws.project.cell.place_of(grasp.item)
    return put(ws, leg, hand, grasp, f"place.{holder.name}.{place.name}", np.eye(4), mate, seed)
