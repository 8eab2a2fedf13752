"""Triangles moved to their place."""

from __future__ import annotations

import numpy as np

from handfast.spatial.se3 import Array


def placed_corners(corners: Array, T: Array) -> Array:
    """Corners (m, 3, 3) moved by T (4, 4), which may scale; a mirrored mesh keeps its faces outward.

    Equal corners stay equal to the last bit, so that neighbours still share them: each coordinate is summed
    alone, where a matrix product may round the last rows of a table otherwise.
    """
    if np.array_equal(T, np.eye(4)):
        return corners
    x, y, z = corners[..., 0], corners[..., 1], corners[..., 2]
    moved = np.stack([T[i, 0] * x + T[i, 1] * y + T[i, 2] * z + T[i, 3] for i in range(3)], axis=-1)
    return np.asarray(moved[:, ::-1] if np.linalg.det(T[:3, :3]) < 0 else moved)
