"""Where a guarded move really meets something: shafts and faces of the held part against faces of the others.

Contacts of two edges, and of shapes that no feature describes, are not seen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.model.feature import Feature
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.true_cell import TrueCell


@dataclass(frozen=True, slots=True)
class Meeting:
    """travel to contact [m], and the touched face."""

    travel: float
    part: str
    face: str


def first_meeting(cell: TrueCell, held: str, T_world_held: Array, direction: Array) -> Meeting | None:
    """What the held part meets first on its way along `direction` (3,), unit, in the world. None: nothing."""
    found: list[Meeting] = []
    points = _edges(cell, held, T_world_held)
    for part in cell.project.product.parts:
        if part.name == held or cell.items[part.name].parent.startswith("hand."):
            continue
        for face in part.features:
            if face.kind == "face" and face.size is not None:
                T_world_face = cell.T_world_feature(part.name, face.name)
                travel = _travel(points, T_world_face, face.size, direction)
                if travel is not None:
                    found.append(Meeting(travel, part.name, face.name))
    return min(found, key=lambda m: m.travel, default=None)


def _edges(cell: TrueCell, part: str, T_world_part: Array) -> list[tuple[Array, Array, float]]:
    """What can touch, as thick lines: (end, end, radius). The axes of shafts, the edges of faces with no
    thickness."""
    out = []
    for feature in cell.project.product.part(part).features:
        T = T_world_part @ cell.T_part_feature(part, feature)
        if feature.kind == "shaft" and feature.length is not None:
            out.append(
                (T[:3, 3], T[:3, 3] - feature.length * T[:3, 2], cell.draws.diameter(part, feature) / 2)
            )
        elif feature.kind == "face" and feature.size is not None:
            out += _outline(T, feature)
    return out


def _outline(T: Array, face: Feature) -> list[tuple[Array, Array, float]]:
    x, y = np.array(face.size) / 2
    corners = [
        T[:3, :3] @ np.array([a * x, b * y, 0.0]) + T[:3, 3] for a, b in ((1, 1), (-1, 1), (-1, -1), (1, -1))
    ]
    return [(corners[i], corners[i - 1], 0.0) for i in range(4)]


def _travel(
    lines: list[tuple[Array, Array, float]], T_world_face: Array, size: tuple[float, float], direction: Array
) -> float | None:
    """Least travel of any of the thick lines to a rectangle they approach from outside; None if they pass
    it."""
    normal = T_world_face[:3, 2]
    against = -float(direction @ normal)
    if against < 0.1:
        return None
    back, d = se3.inverse(T_world_face), T_world_face[:3, :3].T @ direction
    travels = []
    for a, b, radius in lines:
        ends = np.array([back[:3, :3] @ p + back[:3, 3] for p in (a, b)])
        axis = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
        # The generator of the cylinder that lies towards the face.
        across = np.array([0.0, 0, 1]) - axis[2] * axis
        length = float(np.linalg.norm(across))
        if length > 0.05:
            ends = ends - radius * across / length
        heights = ends[:, 2]
        # Where each end would come down on the plane; the part of the line that comes down inside the
        # rectangle touches.
        landed = ends[:, :2] + (heights / against)[:, None] * d[:2]
        span = _inside(landed[0], landed[1], np.array(size) / 2)
        if span is not None:
            height = min(heights[0] + s * (heights[1] - heights[0]) for s in span)
            if height > -0.005:  # else it is behind the face, inside the part
                travels.append(max(0.0, float(height) / against))
    return min(travels, default=None)


def _inside(a: Array, b: Array, half: Array) -> tuple[float, float] | None:
    """Which stretch of the line a + s (b - a), s in [0, 1], lies in the rectangle +-half (2,)."""
    low, high = 0.0, 1.0
    for start, step, limit in zip(a, b - a, half, strict=True):
        if abs(step) < 1e-12:
            if abs(start) > limit:
                return None
            continue
        enter, leave = sorted(((-limit - start) / step, (limit - start) / step))
        low, high = max(low, enter), min(high, leave)
    return (low, high) if low <= high else None
