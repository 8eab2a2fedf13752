"""Which points of a held part can meet a face: those over it, and where its edges pass the face's border."""

from __future__ import annotations

import numpy as np

from handfast.spatial.se3 import Array

_NEAR = 1e-3  # what is further from the plane at the planned contact cannot be what touches [m]
_MOST = 120  # points looked at, the nearest to the plane first


def over_face(points: Array, T_face_held: Array, direction: Array, size: tuple[float, float]) -> Array:
    """Points (k, 3) [m] in the held part's frame, none if it passes the face.

    points: of the held part in its frame (n, 3); T_face_held (4, 4): where it stands at the planned contact,
    z of the face outward; direction (3,): of the move in the face frame, unit, z below zero; size: of the
    face along its x and y [m]. Parts bulge: a segment between two of the points belongs to the part.
    """
    there = points @ T_face_held[:3, :3].T + T_face_held[:3, 3]
    height = there[:, 2]
    order = np.argsort(np.abs(height))[:_MOST]
    order = order[np.abs(height[order]) < _NEAR]
    landed = there[order, :2] + (height[order] / -direction[2])[:, None] * direction[:2]
    a, b = np.triu_indices(len(order))  # a point by itself among them
    low, high = _inside(landed[a], landed[b], np.array(size) / 2)
    kept = low <= high
    start, step = points[order][a[kept]], (points[order][b] - points[order][a])[kept]
    ends = np.concatenate([start + low[kept, None] * step, start + high[kept, None] * step])
    return np.unique(np.round(ends, 9), axis=0)


def _inside(a: Array, b: Array, half: Array) -> tuple[Array, Array]:
    """Which stretch of each line a + s (b - a), s in [0, 1], lies in the rectangle +-half: low (n,), high
    (n,); low above high where none does."""
    low, high = np.zeros(len(a)), np.ones(len(a))
    for i in range(2):
        step = b[:, i] - a[:, i]
        flat = np.abs(step) < 1e-12
        safe = np.where(flat, 1.0, step)
        s, t = (-half[i] - a[:, i]) / safe, (half[i] - a[:, i]) / safe
        enter, leave = np.minimum(s, t), np.maximum(s, t)
        out = flat & (np.abs(a[:, i]) > half[i])
        low = np.where(flat, np.where(out, 2.0, low), np.maximum(low, enter))
        high = np.where(flat, high, np.minimum(high, leave))
    return low, high
