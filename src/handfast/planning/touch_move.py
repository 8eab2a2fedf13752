"""Touches that a mate asks for: guarded moves of the held part against another part's face."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from handfast.mates.home import motion_axis
from handfast.model.feature import Feature
from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.model.touch import Touch
from handfast.planning.arrive import arrivals
from handfast.planning.clear_line import blocked
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg, element
from handfast.planning.pick import grip_pose
from handfast.planning.workspace import Workspace
from handfast.spatial.pose import Vec3
from handfast.spatial.se3 import Array

TRAVEL = 0.004  # from the start of the guarded move to the contact that is expected [m]
OVERTRAVEL = 0.003  # beyond it, before the move gives up [m]
_DIP = 0.008  # the contact lies this far inside the face's edge [m]
_UP_SHAFT = 0.005  # and this far up the shaft from its tip [m]
_ABOVE = 0.02  # the straight line to the start begins this far outside the face [m]


def touch_first(
    ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, T_world_home: Array, seed: int
) -> Iterator[Leg | Failure]:
    """The leg with the touches of the mate added, in order; the leg itself if it asks for none."""
    legs: Iterable[Leg | Failure] = [leg]
    for part, face in mate.touches:
        legs = _touched(ws, legs, hand, mate, grasp, T_world_home, part, face, seed)
    yield from legs


def _touched(
    ws: Workspace,
    legs: Iterable[Leg | Failure],
    hand: str,
    mate: Mate,
    grasp: Grasp,
    T_world_home: Array,
    part: str,
    face: str,
    seed: int,
) -> Iterator[Leg | Failure]:
    for leg in legs:
        if isinstance(leg, Failure):
            yield leg
        else:
            yield from _touch(ws, leg, hand, mate, grasp, T_world_home, part, face, seed)


def _touch(
    ws: Workspace,
    leg: Leg,
    hand: str,
    mate: Mate,
    grasp: Grasp,
    T_world_home: Array,
    part: str,
    face: str,
    seed: int,
) -> Iterator[Leg | Failure]:
    state, controller = leg.state, ws.project.cell.controller
    point, grips, standoff = _grips(ws, leg, mate, grasp, T_world_home, part, face)
    bodies, standing = ws.moving(state, hand), ws.standing(state, hand)
    hit = blocked(bodies, standing, grips[0], grips[1][:3, 3] - grips[0][:3, 3], memo=ws.memo) or blocked(
        bodies, standing, grips[1], standoff, frozenset({(mate.part, part)}), memo=ws.memo
    )
    if hit is not None:
        text = f"{hit.moving} on {hit.standing} touching {part}.{face}"
        yield Failure("collision at mate", text, hit.short_by, hit.standing)
        return
    there_and_back = [*grips, grips[1], grips[0]]
    speeds = (controller.line_speed, controller.touch_speed, controller.line_speed, controller.line_speed)
    for way in arrivals(ws, state, hand, there_and_back, speeds, seed):
        if isinstance(way, Failure):
            yield way
            continue
        free, motions, lines = way
        touch = Touch(
            mate.part,
            point,
            part,
            face,
            (0.0, 0.0, -1.0),
            TRAVEL,
            OVERTRAVEL,
            _threshold(ws, hand, grasp),
            controller.touch_speed,
        )
        move = element("move", hand, mate.part, f"{part}.{face}", mate.name, leg.with_pending(free))
        locate = element(
            "locate",
            hand,
            mate.part,
            f"{part}.{face}",
            mate.name,
            motions,
            before=controller.settle,
            touch=touch,
            guarded=1,
        )
        yield leg.then(state.moved(hand, lines[-1][-1]), move, locate)


def _grips(
    ws: Workspace, leg: Leg, mate: Mate, grasp: Grasp, T_world_home: Array, part: str, face: str
) -> tuple[Vec3, list[Array], Array]:
    """The contact point on the held part, the grip poses above, at the start and in contact, and the step
    between the two."""
    product = ws.project.product
    feature = product.part(part).feature(face)
    T_face = ws.pose(leg.state, part) @ feature.frame.matrix
    moving = product.part(mate.part).feature(mate.pairs[0].moving)
    axis = motion_axis(product, mate)
    point = contact_point(moving, T_world_home[:3, :3].T @ -T_face[:3, 2])
    contact = T_world_home.copy()
    contact[:3, 3] = _on_face(T_face, feature, T_world_home, axis) - T_world_home[:3, :3] @ point
    start, above = contact.copy(), contact.copy()
    start[:3, 3] += TRAVEL * T_face[:3, 2]
    above[:3, 3] = start[:3, 3] - (_DIP + _UP_SHAFT + _ABOVE) * (T_world_home[:3, :3] @ axis)
    x, y, z = (float(v) for v in point)
    return (x, y, z), [grip_pose(T, grasp) for T in (above, start, contact)], contact[:3, 3] - start[:3, 3]


def contact_point(moving: Feature, direction: Array) -> Array:
    """Where the held part meets a face when it travels along `direction` (3,), unit, in the part frame: (3,)
    [m].

    On the flank of a shaft, a little up from its tip; on the tip's edge where the shaft points into the face.
    """
    frame = moving.frame.matrix
    across = direction - (direction @ frame[:3, 2]) * frame[:3, 2]
    radius = (moving.diameter or 0.0) / 2
    if np.linalg.norm(across) < 0.5:
        return np.asarray(frame[:3, 3])
    return np.asarray(frame[:3, 3] - _UP_SHAFT * frame[:3, 2] + radius * across / np.linalg.norm(across))


def _on_face(T_face: Array, face: Feature, T_world_home: Array, axis: Array) -> Array:
    """The point of a face to touch, in world (3,): as near as possible to the home position, inside the
    edges."""
    back = -(T_face[:3, :3].T @ (T_world_home[:3, :3] @ axis))[:2]
    half = np.array(face.size or (0.0, 0.0)) / 2
    local = (T_face[:3, :3].T @ (T_world_home[:3, 3] - T_face[:3, 3]))[:2]
    room = np.maximum(half - _DIP, 0.0)
    local = np.clip(local, -room, room)
    along = np.abs(back) > 0.5
    local[along] = np.sign(back[along]) * room[along]
    return np.asarray(T_face[:3, :3] @ np.array([*local, 0.0]) + T_face[:3, 3])


def _threshold(ws: Workspace, hand: str, grasp: Grasp) -> float:
    """Contact force [N]: three times the sensor's noise at least, under half of the grasp's slip limit."""
    noise = [s.noise for s in ws.project.cell.force_sensors if s.arm == hand]
    return min(max(3 * max(noise, default=1.0), 2.0), grasp.slip_force / 2)
