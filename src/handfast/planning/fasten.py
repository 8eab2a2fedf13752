"""Driving a screw with a powered tool."""

from __future__ import annotations

import math

import numpy as np

from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.planning.clear_line import blocked
from handfast.planning.connect import connect, roomy
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg, element
from handfast.planning.pick import grip_pose
from handfast.planning.place import CLEAR, GATE, before, goal, touching
from handfast.planning.station import line_motion, stations
from handfast.planning.workspace import Workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.standards.threads import coarse_thread

_ROLLS = 12
_TAKE_UP = 0.3  # time for the bit to find the socket and the vacuum to build up [s]
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
                      frozenset({(tool.name, mate.part)}))  # fmt: skip
        hit = hit or blocked(ws.moving(carried, hand), ws.standing(carried, hand), T_grip, -_OUT * down,
                             frozenset({(mate.part, holder)}))  # fmt: skip
        if hit is not None:
            out.append(Failure("tool does not fit", f"{hit.moving} on {hit.standing} taking up {mate.part}", -hit.distance))
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


def drive(ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, seed: int) -> list[Leg | Failure]:
    """With the screw on the bit, bring it over its hole, drive it home and draw back. Retreat stays pending."""
    state, h, controller = leg.state, ws.hands[hand], ws.project.cell.controller
    tool = ws.project.cell.tool(grasp.item)
    T_bit_screw = state.scene.of(mate.part).pose.matrix
    aim = goal(ws, state, mate)
    thread = ws.project.product.part(mate.part).feature(mate.pairs[0].moving).thread or ""
    pitch = coarse_thread(thread).pitch
    turns = aim.engaged / pitch * 2 * math.pi
    # The hand goes down at the screw's own pace; the spindle gives the turns.
    speed = min(controller.insert_speed, tool.spindle.speed / (2 * math.pi) * pitch)
    out: list[Leg | Failure] = []
    for roll in np.arange(_ROLLS) * 2 * np.pi / _ROLLS:
        T_screw = aim.T_world_home @ _about_own_axis(ws, mate, roll)
        T_grip = grip_pose(T_screw @ se3.inverse(T_bit_screw) @ se3.inverse(tool.bit.matrix), grasp)
        hit = blocked(ws.moving(state, hand), ws.standing(state, hand), T_grip, -(aim.engaged + CLEAR) * aim.axis, touching(mate))
        left = state.attached(mate.part, f"part.{mate.into}", aim.T_into_home)
        hit = hit or blocked(ws.moving(left, hand), ws.standing(left, hand), T_grip, -_OUT * aim.axis,
                             frozenset({(tool.name, mate.part)}))  # fmt: skip
        if hit is not None:
            out.append(Failure("tool does not fit", f"{hit.moving} on {hit.standing} driving {mate.part}", -hit.distance))
            continue
        top = before(T_grip, aim.axis, max(_OUT, aim.engaged + CLEAR))
        grips = [top, before(T_grip, aim.axis, aim.engaged + GATE), T_grip]
        for lines in stations(ws, state, hand, grips, state.q[hand]):
            if isinstance(lines, Failure):
                out.append(lines)
                continue
            free = roomy(ws, state, hand, lines[0][0]) or connect(ws, state, hand, lines[0][0], seed)
            if isinstance(free, Failure):
                out.append(free)
                continue
            after = left.attached(mate.part, f"part.{mate.into}", se3.inverse(ws.pose(state, mate.into)) @ T_screw)
            after = after.moved(hand, lines[0][0])
            pair = mate.pairs[0]
            target = f"{pair.fixed_part}.{pair.fixed}"
            path = np.concatenate([lines[0], lines[1][1:]])
            move = element("move", hand, tool.name, target, mate.name, leg.with_pending(free))
            position = element("position", hand, tool.name, target, mate.name,
                               (line_motion(h, lines[0], grips[0], grips[1], controller.line_speed),))  # fmt: skip
            use = element("use", hand, mate.part, target, mate.name,
                          (line_motion(h, lines[1], grips[1], grips[2], speed),), torque=mate.torque, turns=turns,
                          leaves=after.scene.of(mate.part))  # fmt: skip
            up = line_motion(h, path[::-1], grips[2], grips[0], controller.line_speed)
            return [leg.then(after, move, position, use, pending=(up,)), *out]
    return out


def _about_own_axis(ws: Workspace, mate: Mate, angle: float) -> Array:
    """A turn of the screw about its own thread axis, in the screw's frame."""
    frame = ws.project.product.part(mate.part).feature(mate.pairs[0].moving).frame.matrix
    return np.asarray(frame @ se3.rotation(_Z, angle) @ se3.inverse(frame))


def put_back(ws: Workspace, leg: Leg, hand: str, grasp: Grasp, parent: str, mate: str, seed: int) -> list[Leg | Failure]:
    """Return the tool to the place it came from and draw back."""
    from handfast.planning.pick import APPROACH, backed, open_width

    state, h, controller = leg.state, ws.hands[hand], ws.project.cell.controller
    tool = grasp.item
    T_grip = grip_pose(ws.parent_pose(state, parent), grasp)
    out: list[Leg | Failure] = []
    for height in (0.06, 0.1):
        above = T_grip.copy()
        above[2, 3] += height
        width = open_width(ws, hand, grasp)
        left = state.attached(tool, parent, np.eye(4)).opened(hand, width)
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
            move = element("move", hand, tool, parent, mate, leg.with_pending(free))
            position = element("position", hand, tool, parent, mate,
                               (line_motion(h, lines[0], grips[0], grips[1], controller.line_speed),))  # fmt: skip
            release = element("release", hand, tool, parent, mate,
                              (line_motion(h, lines[1], grips[1], grips[2], controller.line_speed),),
                              before=h.gripper.close_time, opening=width, leaves=after.scene.of(tool))  # fmt: skip
            return [leg.then(after, move, position, release), *out]
    return out
