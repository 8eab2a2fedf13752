"""Driving a screw with a powered tool."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.planning.arrive import arrivals
from handfast.planning.clear_line import Hit, blocked
from handfast.planning.failure import Failure, of_candidate
from handfast.planning.leg import Leg, element
from handfast.planning.pick import grip_pose
from handfast.planning.place import CLEAR, GATE, before, goal, touching
from handfast.planning.put import put
from handfast.planning.state import State
from handfast.planning.workspace import Workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.standards.threads import coarse_thread

ROLLS = np.arange(12) * 2 * np.pi / 12  # how a bit may be turned about a screw's axis [rad]
_A_ROLL = 2  # times as much work as one posture with its lines
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


def take_up(
    ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, seed: int
) -> Iterator[Leg | Failure]:
    """Legs that set the bit of the tool in the hand into a screw where it waits; the lift stays pending."""
    for roll in ROLLS:
        ws.effort.spend(_A_ROLL)
        taken = _taken_up(ws, leg, hand, mate, grasp, float(roll), seed)
        yield from of_candidate(taken, "take up", hand, mate.name, grasp, float(roll))


def _taken_up(
    ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, roll: float, seed: int
) -> Iterator[Leg | Failure]:
    state, controller, tool = leg.state, ws.project.cell.controller, ws.project.cell.tool(grasp.item)
    T_screw_bit = socket_frame(ws, mate.part) @ se3.rotation(_Z, roll)
    T_bit = ws.pose(state, mate.part) @ T_screw_bit
    T_grip, down = grip_pose(T_bit @ se3.inverse(tool.bit.matrix), grasp), T_bit[:3, 2]
    holder = f"holder {state.scene.of(mate.part).parent.split('.')[1]}"
    carried = state.attached(mate.part, f"tool.{tool.name}", se3.inverse(T_screw_bit))
    for moving, allowed in ((state, (tool.name, mate.part)), (carried, (mate.part, holder))):
        hit = blocked(
            ws.moving(moving, hand),
            ws.standing(moving, hand),
            T_grip,
            -_OUT * down,
            frozenset({allowed}),
            memo=ws.memo,
        )
        if hit is not None:
            text = f"{hit.moving} on {hit.standing} taking up {mate.part}"
            yield Failure("tool does not fit", text, hit.short_by, hit.standing)
            return
    grips = [before(T_grip, down, _OUT), before(T_grip, down, GATE), T_grip, before(T_grip, down, _OUT)]
    speeds = (controller.line_speed, controller.insert_speed, controller.line_speed)
    for way in arrivals(
        ws, state, hand, grips, speeds, seed, lambda lines: carried.moved(hand, lines[-1][-1])
    ):
        if isinstance(way, Failure):
            yield way
            continue
        free, (approach, seat, lift), lines = way
        move = element("move", hand, tool.name, mate.part, mate.name, leg.with_pending(free))
        position = element("position", hand, tool.name, mate.part, mate.name, (approach, seat))
        use = element(
            "use",
            hand,
            mate.part,
            f"tool.{tool.name}",
            mate.name,
            before=_TAKE_UP,
            leaves=carried.scene.of(mate.part),
        )
        yield leg.then(carried.moved(hand, lines[-1][-1]), move, position, use, pending=(lift,))


@dataclass(frozen=True, slots=True)
class Round:
    """One turn of the driver on one screw: from `start` to `end` [m] before home; torque [N m] to stop at, if
    any."""

    start: float
    end: float
    torque: float | None


def whole(ws: Workspace, mate: Mate) -> Round:
    """From the first thread to home in one go."""
    return Round(abs(mate.pairs[0].depth), 0.0, mate.torque)


def drive(
    ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, turn: Round, seed: int
) -> Iterator[Leg | Failure]:
    """Legs that bring the bit, with the screw on it or to the screw in its hole, turn it as `turn` says, and
    draw back."""
    for roll in ROLLS:
        of = ("drive", hand, mate.name, grasp, turn, float(roll))
        ws.effort.spend(_A_ROLL)
        aim = _aim(ws, leg.state, mate, grasp, turn, float(roll))
        hit = _drive_blocked(ws, leg.state, hand, mate, aim)
        if hit is not None:
            text = f"{hit.moving} on {hit.standing} driving {mate.part}"
            yield Failure("tool does not fit", text, hit.short_by, hit.standing, of)
        else:
            yield from of_candidate(_driven(ws, leg, hand, mate, turn, aim, seed), *of)


@dataclass(frozen=True, eq=False, slots=True)
class _Aim:
    """Grip poses of a turn of the driver: top, engaged (the screw at its start), end; T_bit_screw;
    T_into_screw at the end."""

    tool: str
    top: Array
    engaged: Array
    end: Array
    T_bit_screw: Array
    T_into_end: Array


def _aim(ws: Workspace, state: State, mate: Mate, grasp: Grasp, turn: Round, roll: float) -> _Aim:
    tool = ws.project.cell.tool(grasp.item)
    home = goal(ws, state, mate)
    there = state.scene.of(mate.part)
    if there.parent.startswith("tool."):
        T_bit_screw, out = there.pose.matrix, CLEAR
        T_home = home.T_world_home @ _about_own_axis(ws, mate, roll)
    else:
        T_bit_screw, out = se3.inverse(socket_frame(ws, mate.part) @ se3.rotation(_Z, roll)), _OUT
        T_home = before(ws.pose(state, mate.part), home.axis, -turn.start)
    T_grip = grip_pose(T_home @ se3.inverse(T_bit_screw) @ se3.inverse(tool.bit.matrix), grasp)
    T_into_end = se3.inverse(ws.pose(state, mate.into)) @ before(T_home, home.axis, turn.end)
    top, engaged, end = (before(T_grip, home.axis, d) for d in (turn.start + out, turn.start, turn.end))
    return _Aim(tool.name, top, engaged, end, T_bit_screw, T_into_end)


def _drive_blocked(ws: Workspace, state: State, hand: str, mate: Mate, aim: _Aim) -> Hit | None:
    """Exact test of coming, of turning and of leaving the screw behind."""
    bit = frozenset({(aim.tool, mate.part)})
    on_bit = state.attached(mate.part, f"tool.{aim.tool}", aim.T_bit_screw)
    left = state.attached(mate.part, f"part.{mate.into}", aim.T_into_end)
    for scene, a, b, allowed in (
        (on_bit, aim.end, aim.engaged, touching(mate)),
        (state, aim.engaged, aim.top, touching(mate) | bit),
        (left, aim.end, aim.top, bit),
    ):
        step = b[:3, 3] - a[:3, 3]
        hit = blocked(ws.moving(scene, hand), ws.standing(scene, hand), a, step, allowed, memo=ws.memo)
        if hit is not None:
            return hit
    return None


def _driven(
    ws: Workspace, leg: Leg, hand: str, mate: Mate, turn: Round, aim: _Aim, seed: int
) -> Iterator[Leg | Failure]:
    state, controller = leg.state, ws.project.cell.controller
    pitch = coarse_thread(ws.project.product.part(mate.part).feature(mate.pairs[0].moving).thread or "").pitch
    spindle = ws.project.cell.tool(aim.tool).spindle
    # The hand goes down at the screw's own pace; the spindle gives the turns.
    pace = min(controller.insert_speed, spindle.speed / (2 * math.pi) * pitch)
    turns = turn.start - turn.end > 1e-9
    grips = [aim.top, _short_of(aim.engaged, aim.top), aim.engaged, *([aim.end] if turns else []), aim.top]
    speeds = (
        controller.line_speed,
        controller.insert_speed,
        *([pace] if turns else []),
        controller.line_speed,
    )
    left = state.attached(mate.part, f"part.{mate.into}", aim.T_into_end)
    target = f"{mate.pairs[0].fixed_part}.{mate.pairs[0].fixed}"
    # Only where the screw is started: later rounds find it in its thread.
    how = ws.strategy(mate.name) if state.scene.of(mate.part).parent.startswith("tool.") else None
    for way in arrivals(ws, state, hand, grips, speeds, seed, own_pace=2 if turns else None):
        if isinstance(way, Failure):
            yield way
            continue
        free, motions, lines = way
        yield leg.then(
            left.moved(hand, lines[-1][-1]),
            element("move", hand, aim.tool, target, mate.name, leg.with_pending(free)),
            element("position", hand, aim.tool, target, mate.name, motions[:2]),
            element(
                "use",
                hand,
                mate.part,
                target,
                mate.name,
                motions[2:-1],
                before=(0.0 if turns else _TORQUE_UP) + (0.0 if how is None else how.seconds),
                strategy=how,
                torque=turn.torque,
                turns=(turn.start - turn.end) / pitch * 2 * math.pi,
                leaves=left.scene.of(mate.part),
            ),
            element("move", hand, aim.tool, "clear", mate.name, motions[-1:]),
        )


def _short_of(at: Array, start: Array) -> Array:
    """The pose a gate's length before `at` on the way from `start`."""
    way = at[:3, 3] - start[:3, 3]
    return before(at, way / np.linalg.norm(way), GATE)


def _about_own_axis(ws: Workspace, mate: Mate, angle: float) -> Array:
    """A turn of the screw about its own thread axis, in the screw's frame."""
    frame = ws.project.product.part(mate.part).feature(mate.pairs[0].moving).frame.matrix
    return np.asarray(frame @ se3.rotation(_Z, angle) @ se3.inverse(frame))


def put_back(
    ws: Workspace, leg: Leg, hand: str, grasp: Grasp, mate: str, seed: int
) -> Iterator[Leg | Failure]:
    """Return the tool to the place it came from and draw back."""
    holder, place = ws.project.cell.place_of(grasp.item)
    return put(ws, leg, hand, grasp, f"place.{holder.name}.{place.name}", np.eye(4), mate, seed)
