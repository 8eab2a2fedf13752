"""Where a held part meets a face: the point of its true shape that leads the way, if only one point can.

A flush edge or flank meets a face anywhere along it, depending on a few hundredths of a degree; what
such a contact measures, nobody knows. A part turned off the face meets it with one corner, or one spot
of a rim, and a small rotation leaves that spot where it is.
"""

from __future__ import annotations

import math

import numpy as np

from handfast.geometry.mesh import surface_points
from handfast.model.feature import Feature
from handfast.model.part import Part
from handfast.spatial import se3
from handfast.spatial.se3 import Array

# The contact may wander by no more than this in height while the part turns by that much.
_TURN, _WANDER = math.radians(1.0), 20e-6
# A corner of the mesh this near to a drawn cylinder stands for it: facets lie inside.
_ON_CYLINDER = 40e-6
_TURNS = [
    se3.rotation(axis, sign * _TURN)[:3, :3]
    for axis in (*np.eye(3), *(np.array(a) / math.sqrt(2) for a in ((1.0, 1, 0), (1.0, -1, 0))))
    for sign in (1.0, -1.0)
]


def support_point(part: Part, folder: str, towards: Array) -> Array | None:
    """The point (3,) [m] of the part that is furthest along `towards` (3,), unit, both in the part
    frame; None where an edge or a flank lies flush.
    """
    points = surface_points(part.solids, folder)
    first = points[np.argmax(points @ towards)]
    spot = _on_its_cylinder(part, first, towards)
    for turn in _TURNS:
        turned = turn @ towards
        if float((points @ turned).max() - spot @ turned) > _WANDER:
            return None
    return spot


def _on_its_cylinder(part: Part, point: Array, towards: Array) -> Array:
    """A corner of the facets of a shaft, moved to where the round shaft leads."""
    for feature in part.features:
        if feature.kind in ("shaft", "thread") and feature.diameter and feature.length:
            found = _leading(feature, point, towards)
            if found is not None:
                return found
    return point


def _leading(feature: Feature, point: Array, towards: Array) -> Array | None:
    frame, radius = feature.frame.matrix, (feature.diameter or 0.0) / 2
    x, y, z = (float(v) for v in (se3.inverse(frame) @ np.array([*point, 1.0]))[:3])
    across = towards - (towards @ frame[:3, 2]) * frame[:3, 2]
    length = float(np.linalg.norm(across))
    beside = abs(math.hypot(x, y) - radius)
    if beside > _ON_CYLINDER or not -(feature.length or 0.0) - 1e-6 <= z <= 1e-6 or length < 0.05:
        return None
    return np.asarray(frame[:3, 3] + z * frame[:3, 2] + radius * across / length)
