"""How far a face travels until it meets a ball, and how that hangs on where arms, jaws and ball are.

    travel = (n . (C - p) - R) / (n . d)

C, R: the ball; p, n: a point of the face and its normal; d: the way, all in the world. The arm's base is off
by Exp(b) in its root frame, its tip by Exp(f), its jaws by Exp(j) in the grip frame.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.learning.ball_readings import BallReading
from handfast.model.project import Project
from handfast.spatial import se3
from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class Slopes:
    """Of one travel, by b, f, j (6,) each and by the ball (3,); travel: as it is there [m]."""

    travel: float
    base: Array
    tip: Array
    jaws: Array
    ball: Array


@dataclass(frozen=True, eq=False, slots=True)
class _Stood:
    """Frames in the world (4, 4) with everything off as given, and what meets the ball: point, normal, way
    (3,)."""

    root: Array
    tip: Array
    jaws: Array
    point: Array
    normal: Array
    way: Array


def _stood(project: Project, reading: BallReading, base: Array, tip: Array, jaws: Array) -> _Stood:
    T_base = project.cell.arm(reading.arm).base.matrix
    root = T_base @ se3.exp(base)
    moved = root @ se3.inverse(T_base)
    T_world_tip = moved @ reading.T_world_tip @ se3.exp(tip)
    T = T_world_tip @ project.cell.gripper_of(reading.arm).mount.matrix @ se3.exp(jaws)
    point = T[:3, :3] @ reading.point + T[:3, 3]
    return _Stood(root, T_world_tip, T, point, T[:3, :3] @ reading.normal, moved[:3, :3] @ reading.direction)


def travel_to(
    project: Project, reading: BallReading, base: Array, tip: Array, jaws: Array, ball: Array
) -> float:
    """Travel until contact [m]. base, tip, jaws: twists (6,); ball: its middle in the world (3,)."""
    at = _stood(project, reading, base, tip, jaws)
    return float((at.normal @ (ball - at.point) - reading.radius) / (at.normal @ at.way))


def slopes(project: Project, reading: BallReading, base: Array, jaws: Array, ball: Array) -> Slopes:
    """To first order in what is added to each twist, which are small themselves.

    A frame moved by the twist (v, w) of the world takes the point to p + v + w x p and the normal to n + w x
    n; one of the base turns the way with it.
    """
    at = _stood(project, reading, base, np.zeros(6), jaws)
    n, p, d = at.normal, at.point, at.way
    against = float(n @ d)
    travel = float(n @ (ball - p) - reading.radius) / against
    turned = np.cross(n, ball - p) - np.cross(p, n)
    of_base = np.concatenate([-n, turned]) / against
    of_hand = np.concatenate([-n, turned - travel * np.cross(n, d)]) / against
    return Slopes(
        travel,
        se3.adjoint(at.root).T @ of_base,
        se3.adjoint(at.tip).T @ of_hand,
        se3.adjoint(at.jaws).T @ of_hand,
        n / against,
    )


def first_guess(project: Project, reading: BallReading) -> Array:
    """Where a ball stands (3,) if this reading met it in the middle of the face and nothing is off."""
    T_world_grip = reading.T_world_tip @ project.cell.gripper_of(reading.arm).mount.matrix
    inside = reading.point + reading.radius * reading.normal
    return np.asarray(
        T_world_grip[:3, :3] @ inside + T_world_grip[:3, 3] + reading.travel * reading.direction
    )
