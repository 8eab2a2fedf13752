"""The convex hull of points in a plane."""

from __future__ import annotations

import numpy as np

from handfast.spatial.se3 import Array


def hull(points: Array) -> Array:
    """Counter-clockwise corners (m, 2) of the hull of points (n, 2) (Andrew's monotone chain)."""
    order = np.unique(points, axis=0)

    def half(rows: Array) -> list[Array]:
        chain: list[Array] = []
        for p in rows:
            while len(chain) > 1 and _left(chain[-2], chain[-1], p) <= 0:
                chain.pop()
            chain.append(p)
        return chain[:-1]

    return np.array(half(order) + half(order[::-1])) if len(order) > 2 else order


def _left(a: Array, b: Array, c: Array) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
