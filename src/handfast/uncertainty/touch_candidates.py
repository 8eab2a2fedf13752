"""Touches worth looking at: corners and rims of the held part against the faces of what it goes to.

The target's own datum faces are touched rather than the nest's: what lies between nest and target then
cancels. The part is turned 20 to 40 degrees off a face so that one point of it leads; it moves straight
onto the face, since a point that comes in at a slant slides along it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from handfast.model.feature import Feature
from handfast.model.grasp import Grasp
from handfast.model.part import Part
from handfast.model.project import Project
from handfast.model.touch import Touch
from handfast.spatial import se3
from handfast.spatial.pose import Pose, Vec3
from handfast.spatial.se3 import Array
from handfast.uncertainty.support_point import support_point, turns_of

TRAVEL = 0.004  # from the start of the guarded move to the contact that is expected [m]
OVERTRAVEL = 0.003  # beyond it, before the move gives up [m]
_TURN, _TILTS = math.radians(35.0), (math.radians(25.0), math.radians(45.0))
_INSIDE = 0.006  # the contact lies at least this far inside the face's edges [m]
_SIDEWAYS = 0.35  # share of a face's length by which places besides the nearest lie off
_UP_FACING = -0.5  # faces that look further down than this are lain on
_FORCE = 2.0  # of a touch, where the grasp can take it [N]; common practice, no source
_UNFELT = 0.3  # noise of an arm without a force sensor, from its motor currents [N]; a guess, no source


@dataclass(frozen=True, eq=False, slots=True)
class Held:
    """The part that touches. T_world_home: as it goes home; axis (3,): of its way home in the world,
    unit; hand; grasp: of the part, or of the tool that carries it; T_part_grip: where the hand is, in
    the part frame; turning (3, 3): covariance of its rotation against what it goes to, in the part frame
    [rad^2].
    """

    part: Part
    T_world_home: Array
    axis: Array
    hand: str
    grasp: Grasp
    T_part_grip: Array
    turning: Array


@dataclass(frozen=True, eq=False, slots=True)
class Target:
    """A face of a part that stands still. T_world_face: z outward."""

    part: str
    feature: Feature
    T_world_face: Array


def touch_candidates(project: Project, held: Held, targets: list[Target]) -> tuple[Touch, ...]:
    """Every touch of the held part against the targets that meets its face with one point and gently
    enough.
    """
    out = []
    turns, tip = turns_of(held.turning), held.T_world_home[:3, :3].T @ held.axis
    for target in targets:
        if target.feature.size is None or target.T_world_face[2, 2] < _UP_FACING:
            continue
        for R in orientations(held, target.T_world_face[:3, 2]):
            normal = target.T_world_face[:3, 2]
            point = support_point(held.part, project.folder, -(R.T @ normal), tip, turns)
            force = touch_force(project, held, point, R.T @ normal) if point is not None else None
            if point is not None and force is not None:
                out += [
                    _touch(project, held, target, R, point, force, place)
                    for place in places(target, held.T_world_home[:3, 3], held.axis)
                ]
    return tuple(out)


def orientations(held: Held, normal: Array) -> Iterator[Array]:
    """R_world_part (3, 3) to touch a face with: as it goes home, turned about its way home, tilted with
    its tip towards the face.
    """
    home = held.T_world_home[:3, :3]
    yield home
    for sign in (1.0, -1.0):
        yield se3.rotation(held.axis, sign * _TURN)[:3, :3] @ home
    # The tip moves along the way home's axis; to lead, it has to swing against the face's normal.
    hinge = np.cross(held.axis, -normal)
    if np.linalg.norm(hinge) > 0.5:
        for tilt in _TILTS:
            yield se3.rotation(hinge / np.linalg.norm(hinge), tilt)[:3, :3] @ home


def places(target: Target, near: Array, axis: Array) -> Iterator[Array]:
    """Where on a face (2,) [m], in its frame: near the edge that the part comes over on its way home
    (axis, (3,)), as near to a point (3,) as that leaves, and to both sides of it. All in the world.
    """
    half = np.maximum(np.array(target.feature.size) / 2 - _INSIDE, 0.0)
    local = (se3.inverse(target.T_world_face) @ np.array([*near, 1.0]))[:2]
    nearest = np.clip(local, -half, half)
    back = -(target.T_world_face[:3, :3].T @ axis)[:2]
    over = np.abs(back) > 0.5
    nearest[over] = np.sign(back[over]) * half[over]
    yield nearest
    free = np.where(over, 0.0, half)
    longer = int(np.argmax(free))
    for sign in (1.0, -1.0):
        other = nearest.copy()
        other[longer] = sign * 2 * _SIDEWAYS * half[longer]
        if abs(other[longer] - nearest[longer]) > 0.25 * half[longer]:
            yield other


def touch_force(project: Project, held: Held, point: Array, push: Array) -> float | None:
    """Threshold [N]: under half of what makes the grasp slip; None if the sensor cannot tell so little
    from noise.

    point (3,) [m], push (3,), unit: where the face pushes and which way, in the part frame.
    """
    noise = [s.noise for s in project.cell.force_sensors if s.arm == held.hand]
    lever = float(np.linalg.norm(np.cross(point - held.T_part_grip[:3, 3], push)))
    force = min(_FORCE, held.grasp.slip_force / 2, held.grasp.slip_torque / 2 / max(lever, 1e-6))
    return force if force >= 3 * max(noise, default=_UNFELT) else None


def _touch(
    project: Project, held: Held, target: Target, R: Array, point: Array, force: float, place: Array
) -> Touch:
    R_face = target.T_world_face[:3, :3]
    R_face_held = R_face.T @ R
    T_face_held = se3.pose(R_face_held, np.array([*place, 0.0]) - R_face_held @ point)
    return Touch(
        held=held.part.name,
        point=_vec3(point),
        part=target.part,
        feature=target.feature.name,
        direction=(0.0, 0.0, -1.0),
        travel=TRAVEL,
        overtravel=OVERTRAVEL,
        force=force,
        speed=project.cell.controller.touch_speed,
        contact=Pose.from_matrix(T_face_held),
    )


def _vec3(v: Array) -> Vec3:
    return float(v[0]), float(v[1]), float(v[2])
