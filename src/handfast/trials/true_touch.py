"""Where a guarded move really meets something: the true shape of what the hand carries against faces of
the others.

Shafts have the diameter of this build; everything else of a shape is its mesh, corner by corner. Of the
touched parts only faces are seen, within their edges; contacts of two edges are not.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from handfast.geometry.mesh import surface_points
from handfast.model.feature import Feature
from handfast.model.part import Part
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.true_cell import TrueCell

_BEHIND = -0.005  # what is further behind a face is inside the part [m]
# Mesh corners this near to a drawn cylinder are its facets, and those this near to a drawn edge its ends [m].
_ON_CYLINDER, _ON_EDGE = 40e-6, 100e-6
Line = tuple[Array, Array, float]


@dataclass(frozen=True, slots=True)
class Meeting:
    """travel to contact [m], and the touched face."""

    travel: float
    part: str
    face: str


@dataclass(frozen=True, eq=False, slots=True)
class Shape:
    """What can touch, in the world: thick lines (end, end, radius); points (n, 3)."""

    lines: list[Line]
    points: Array


def first_meeting(cell: TrueCell, held: str, T_world_held: Array, direction: Array) -> Meeting | None:
    """What a held item, and what is joined to it, meets first on its way along `direction` (3,), unit, in the
    world. None: nothing.
    """
    parts = {p.name: p for p in cell.project.product.parts}
    moved = T_world_held @ se3.inverse(cell.T_world(held))
    carried = [name for name in cell.items if _follows(cell, name, held)]
    shapes = [_shape(cell, parts[n], moved @ cell.T_world(n)) for n in carried if n in parts]
    found: list[Meeting] = []
    for part in parts.values():
        if part.name in carried or cell.items[part.name].parent.startswith(("hand.", "tool.")):
            continue
        for face in part.features:
            if face.kind == "face" and face.size is not None:
                T_world_face = cell.T_world_feature(part.name, face.name)
                if -float(direction @ T_world_face[:3, 2]) < 0.1:
                    continue
                travels = [_travel(shape, T_world_face, face.size, direction) for shape in shapes]
                found += [Meeting(t, part.name, face.name) for t in travels if t is not None]
    return min(found, key=lambda m: m.travel, default=None)


def foremost(cell: TrueCell, held: str, T_world_held: Array, direction: Array) -> Array:
    """The corner (3,) of what a held item and what is joined to it are drawn with that is foremost along
    `direction` (3,), in the world."""
    moved = T_world_held @ se3.inverse(cell.T_world(held))
    solids = {p.name: p.solids for p in cell.project.product.parts}
    found = [T_world_held[:3, 3]]
    for name in cell.items:
        if name in solids and _follows(cell, name, held):
            T = moved @ cell.T_world(name)
            corners = surface_points(solids[name], cell.project.folder) @ T[:3, :3].T + T[:3, 3]
            found.append(corners[np.argmax(corners @ direction)])
    return max(found, key=lambda p: float(p @ direction))


def _follows(cell: TrueCell, item: str, held: str) -> bool:
    """Whether an item is the held one, or joined to it."""
    kind, _, name = cell.items[item].parent.partition(".")
    return item == held or (kind in ("part", "tool") and _follows(cell, name, held))


def _shape(cell: TrueCell, part: Part, T_world_part: Array) -> Shape:
    local = _corners(part, cell.project.folder)
    lines: list[Line] = []
    for feature in part.features:
        T = T_world_part @ cell.T_part_feature(part.name, feature)
        if feature.kind == "shaft" and feature.length is not None:
            tip = _chamfer_length(feature)
            radius = cell.draws_of(part.name).diameter(part.name, feature) / 2
            lines.append((T[:3, 3] - tip * T[:3, 2], T[:3, 3] - feature.length * T[:3, 2], radius))
        elif feature.kind == "face" and feature.size is not None and _is_sharp(feature, local):
            lines += _outline(T, feature)
    kept = local[np.logical_not(_on_shafts(part, local))]
    return Shape(lines, kept @ T_world_part[:3, :3].T + T_world_part[:3, 3])


@lru_cache(maxsize=64)
def _corners(part: Part, folder: str) -> Array:
    return surface_points(part.solids, folder)


def _on_shafts(part: Part, points: Array) -> NDArray[np.bool_]:
    """Which corners are facets of a shaft whose true diameter is drawn, (n,)."""
    out = np.zeros(len(points), dtype=bool)
    for feature in part.features:
        if feature.kind == "shaft" and feature.length is not None and feature.diameter is not None:
            local = (points - feature.frame.matrix[:3, 3]) @ feature.frame.matrix[:3, :3]
            beside = np.abs(np.hypot(local[:, 0], local[:, 1]) - feature.diameter / 2)
            out |= (beside < _ON_CYLINDER) & (local[:, 2] < 1e-6) & (local[:, 2] > -feature.length - 1e-6)
    return out


def _chamfer_length(shaft: Feature) -> float:
    """How far the chamfer reaches along the axis [m]: its angle is measured from the end face."""
    return shaft.chamfer.width * float(np.tan(shaft.chamfer.angle)) if shaft.chamfer is not None else 0.0


def _is_sharp(face: Feature, points: Array) -> bool:
    """Whether the drawn edges of a face are edges of the shape: its four corners are."""
    ends = [line[0] for line in _outline(face.frame.matrix, face)]
    return all(float(np.linalg.norm(points - end, axis=1).min()) < _ON_EDGE for end in ends)


def _outline(T: Array, face: Feature) -> list[tuple[Array, Array, float]]:
    x, y = np.array(face.size) / 2
    corners = [
        T[:3, :3] @ np.array([a * x, b * y, 0.0]) + T[:3, 3] for a, b in ((1, 1), (-1, 1), (-1, -1), (1, -1))
    ]
    return [(corners[i], corners[i - 1], 0.0) for i in range(4)]


def _travel(shape: Shape, T_world_face: Array, size: tuple[float, float], direction: Array) -> float | None:
    """Least travel of a shape to a rectangle it approaches from outside; None if it passes it."""
    back, d = se3.inverse(T_world_face), T_world_face[:3, :3].T @ direction
    against, half = -float(d[2]), np.array(size) / 2
    heights = [h for line in shape.lines for h in _line_height(line, back, d, half)]
    points = shape.points @ back[:3, :3].T + back[:3, 3]
    landed = points[:, :2] + (points[:, 2:] / against) * d[:2]
    inside = (np.abs(landed) <= half).all(axis=1) & (points[:, 2] > _BEHIND)
    heights += points[inside, 2].tolist()
    return max(0.0, min(heights) / against) if heights else None


def _line_height(line: Line, back: Array, d: Array, half: Array) -> list[float]:
    """Height of a thick line above a face where it comes down inside its edges; nothing if it does not."""
    a, b, radius = line
    ends = np.array([back[:3, :3] @ p + back[:3, 3] for p in (a, b)])
    axis = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    # The generator of the cylinder that lies towards the face.
    across = np.array([0.0, 0, 1]) - axis[2] * axis
    length = float(np.linalg.norm(across))
    if length > 0.05:
        ends = ends - radius * across / length
    heights = ends[:, 2]
    # Where each end would come down on the plane; the part of the line that comes down inside touches.
    landed = ends[:, :2] + (heights / -d[2])[:, None] * d[:2]
    span = _inside(landed[0], landed[1], half)
    if span is None:
        return []
    height = min(float(heights[0] + s * (heights[1] - heights[0])) for s in span)
    return [height] if height > _BEHIND else []


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
