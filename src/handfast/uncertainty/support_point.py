"""Where a held part meets a face: the point of its true shape that leads the way, if it is clear which
one does.

A long flush edge meets a face anywhere along it, depending on a few hundredths of a degree; what such a
contact measures, nobody knows. A part turned off the face meets it with one corner, or one spot of a
rim, and a small rotation leaves that spot where it is.
"""

from __future__ import annotations

import math

import numpy as np

from handfast.geometry.mesh import surface_points
from handfast.model.feature import Feature
from handfast.model.part import Part
from handfast.spatial import se3
from handfast.spatial.se3 import Array

# By how much the contact's height may wander while the part turns by two sigma: well under a touch's noise.
_WANDER, _SIGMAS = 15e-6, 2.0
# A corner of the mesh this near to a drawn cylinder stands for it: facets lie inside.
_ON_CYLINDER = 40e-6
_LEVEL = 1e-6


def turns_of(covariance: Array) -> list[Array]:
    """Rotation vectors (3,) of two sigma each way about the axes of a covariance (3, 3) [rad^2]."""
    variances, axes = np.linalg.eigh(covariance)
    steps = _SIGMAS * axes * np.sqrt(np.maximum(variances, 0.0))
    return [sign * step for step in steps.T for sign in (1.0, -1.0)]


def support_point(part: Part, folder: str, towards: Array, tip: Array, turns: list[Array]) -> Array | None:
    """The point (3,) [m] of the part that is furthest along `towards` (3,), unit; None where another one
    takes over.

    All in the part frame. tip (3,): the way home; of several points that lead alike the one nearest to
    the tip counts. turns: rotation vectors (3,) the part may have made unseen.
    """
    points = surface_points(part.solids, folder)
    lead = points @ towards
    level = points[lead > lead.max() - _LEVEL]
    spot = _on_its_cylinder(part, level[np.argmax(level @ tip)], towards)
    for turn in turns:
        # A rim may turn on its own axis as it likes: another spot of it leads, at the same height.
        height = spot @ (towards + np.cross(turn, towards))
        if abs(float((points @ (se3.so3_exp(turn) @ towards)).max() - height)) > _WANDER:
            return None
    return spot


def _on_its_cylinder(part: Part, point: Array, towards: Array) -> Array:
    """A corner of the facets of a shaft, moved to where the round shaft leads."""
    for feature in part.features:
        if feature.kind == "shaft" and feature.diameter and feature.length:
            found = _leading(feature, feature.diameter / 2, point, towards)
            if found is not None:
                return found
    return point


def _leading(feature: Feature, radius: float, point: Array, towards: Array) -> Array | None:
    frame = feature.frame.matrix
    x, y, z = (float(v) for v in (se3.inverse(frame) @ np.array([*point, 1.0]))[:3])
    across = towards - (towards @ frame[:3, 2]) * frame[:3, 2]
    length = float(np.linalg.norm(across))
    beside = abs(math.hypot(x, y) - radius)
    if beside > _ON_CYLINDER or not -(feature.length or 0.0) - 1e-6 <= z <= 1e-6 or length < 0.05:
        return None
    return np.asarray(frame[:3, 3] + z * frame[:3, 2] + radius * across / length)
