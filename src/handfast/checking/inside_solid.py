"""Which points lie inside the material of a body."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handfast.geometry.mesh import read_mesh
from handfast.geometry.overlap import written
from handfast.model.shape import Box, Cylinder, Mesh, Shape, Solid, Sphere
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_SLANTED = se3.fixed_xyz(0.3711, 0.2237, 0.7193)[:3, :3]


def inside_any(points: Array, solids: tuple[Solid, ...], folder: str) -> NDArray[np.bool_]:
    """For points (m, 3) [m] in the body frame: does each lie inside some solid. Raises MeshError."""
    result = np.zeros(len(points), dtype=bool)
    for solid in solids:
        T_shape_body = se3.inverse(solid.pose.matrix)
        result |= _inside(points @ T_shape_body[:3, :3].T + T_shape_body[:3, 3], solid.shape, folder)
    return result


def _inside(p: Array, shape: Shape, folder: str) -> NDArray[np.bool_]:
    if isinstance(shape, Box):
        return np.asarray(np.all(np.abs(p) < np.array(shape.size) / 2, axis=1))
    if isinstance(shape, Cylinder):
        across = np.hypot(p[:, 0], p[:, 1]) < shape.radius
        return np.asarray(across & (np.abs(p[:, 2]) < shape.length / 2))
    if isinstance(shape, Sphere):
        return np.asarray(np.linalg.norm(p, axis=1) < shape.radius)
    return np.asarray(np.abs(_around(p, *_mesh(shape, folder, written(shape, folder)))) > 0.5)


@lru_cache(maxsize=256)
def _mesh(mesh: Mesh, folder: str, _written: int) -> tuple[Array, Array, Array]:
    return _slanted(*read_mesh(Path(folder) / mesh.path, mesh.scale))


def winding_number(points: Array, vertices: Array, triangles: NDArray[np.int64]) -> Array:
    """How often a mesh goes around each point (m, 3): 1 inside a closed outward mesh, 0 outside.

    Counted along a ray from each point: a face crossed from within counts one, from without minus one. The
    ray is slanted against everything that parts are usually drawn along, so that it meets no edge.
    """
    return _around(points, *_slanted(vertices, triangles))


def _slanted(vertices: Array, triangles: NDArray[np.int64]) -> tuple[Array, Array, Array]:
    """Corners of the faces (n, 3, 3) seen along the ray, and the box around each."""
    corners = (vertices @ _SLANTED.T)[triangles]
    return corners, corners.min(axis=1), corners.max(axis=1)


def _around(points: Array, corners: Array, low: Array, high: Array) -> Array:
    p = points @ _SLANTED.T
    least, most = p.min(axis=0), p.max(axis=0)
    # Points of one probe lie together: few faces are above them at all, and fewer above each.
    above = high[:, 2] > least[2]
    near = above & (high[:, :2] >= least[:2]).all(axis=1) & (low[:, :2] <= most[:2]).all(axis=1)
    corners, low, high = corners[near], low[near], high[near]
    x, y, z = p[:, None, :].transpose(2, 0, 1)
    over = (low[:, 0] <= x) & (x <= high[:, 0]) & (low[:, 1] <= y) & (y <= high[:, 1]) & (z < high[:, 2])
    which, face = np.nonzero(over)
    signs = _crossings(p[which], corners[face])
    return np.asarray(np.bincount(which, signs, minlength=len(p)), dtype=np.float64)


def _crossings(p: Array, corners: Array) -> Array:
    """For points (n, 3) and faces (n, 3, 3) in pairs: 1 where the face is above its point and looks up, -1
    where it looks down, else 0."""
    areas = np.stack([_twice_area(p, corners[:, i], corners[:, (i + 1) % 3]) for i in range(3)])
    upward, downward = np.all(areas > 0, axis=0), np.all(areas < 0, axis=0)
    whole = areas.sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):  # faces seen edge on are neither up nor down
        # Each area weighs the corner that is not on its edge.
        height = sum(areas[i] * corners[:, (i + 2) % 3, 2] for i in range(3)) / whole
    above = height > p[:, 2]
    return np.asarray((upward & above).astype(np.float64) - (downward & above))


def _twice_area(p: Array, a: Array, b: Array) -> Array:
    """Of the triangles p a b seen along z (n,), positive if anticlockwise."""
    ax, ay = a[:, 0] - p[:, 0], a[:, 1] - p[:, 1]
    bx, by = b[:, 0] - p[:, 0], b[:, 1] - p[:, 1]
    return np.asarray(ax * by - ay * bx)
