"""A feature found in a drawing, with how sure and why."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.geometry.cad.around import across
from handfast.geometry.cad.tolerance import Tolerance
from handfast.model.feature import Feature
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class DrawnFeature:
    """feature: with its first frame; ends: all frames it may have (a through hole has two mouths, a pin two
    tips); chamfers: the lead-in at each of them, as (radial width [m], angle from the face [rad]) or None;
    form: such as "through" or "counterbored"; faces: of the drawing; sure: from 0 to 1; why: in words;
    thread: the thread that a hole of this size is drilled for, or None; walls: other faces that belong to it
    (chamfer, bottom); tolerances: what the file states for its faces."""

    feature: Feature
    ends: tuple[Pose, ...]
    chamfers: tuple[tuple[float, float] | None, ...]
    form: str
    faces: tuple[int, ...]
    sure: float
    why: str
    thread: str | None = None
    walls: tuple[int, ...] = ()
    tolerances: tuple[Tolerance, ...] = ()


def pose_of(at: Array, z: Array, x: Array | None = None) -> Pose:
    """The frame of a feature: origin [m], unit z, and x where the turn about z matters."""
    first, second = across(z)
    if x is not None:
        first = x - (x @ z) * z
        first = first / np.linalg.norm(first)
        second = np.cross(z, first)
    T = np.eye(4)
    T[:3, 0], T[:3, 1], T[:3, 2], T[:3, 3] = first, second, z, at
    return Pose.from_matrix(T)
