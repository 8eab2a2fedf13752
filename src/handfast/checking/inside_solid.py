"""Which points lie inside the material of a body."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handfast.geometry.mesh import read_mesh
from handfast.model.shape import Box, Cylinder, Mesh, Shape, Solid, Sphere
from handfast.spatial import se3
from handfast.spatial.se3 import Array


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
    return np.abs(winding_number(p, *_mesh(shape, folder))) > 0.5


def _mesh(mesh: Mesh, folder: str) -> tuple[Array, NDArray[np.int64]]:
    return read_mesh(Path(folder) / mesh.path, mesh.scale)


def winding_number(points: Array, vertices: Array, triangles: NDArray[np.int64]) -> Array:
    """How often a mesh goes around each point (m, 3): 1 inside a closed outward mesh, 0 outside.

    Solid angle of a triangle: van Oosterom and Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125-126.
    """
    total = np.zeros(len(points))
    corners = vertices[triangles]
    for i, point in enumerate(points):
        a, b, c = np.moveaxis(corners - point, 1, 0)
        la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
        triple = np.einsum("ij,ij->i", a, np.cross(b, c))
        below = la * lb * lc
        for u, v, w in ((a, b, lc), (b, c, la), (c, a, lb)):
            below = below + np.einsum("ij,ij->i", u, v) * w
        total[i] = np.sum(2 * np.arctan2(triple, below)) / (4 * np.pi)
    return total
