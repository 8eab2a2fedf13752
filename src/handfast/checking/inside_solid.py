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
    parts = np.array_split(points, _parts(points, triangles))
    return np.concatenate([_turns(part, vertices[triangles]) for part in parts])


def _parts(points: Array, triangles: NDArray[np.int64]) -> int:
    """Into how many parts the points go, so that no array holds more than a million solid angles."""
    return 1 + len(points) * len(triangles) // 1_000_000


def _turns(points: Array, corners: Array) -> Array:
    a, b, c = (corners[None, :, i] - points[:, None] for i in range(3))
    la, lb, lc = (np.sqrt(_dot(v, v)) for v in (a, b, c))
    above = _dot(a, np.cross(b, c))
    below = la * lb * lc + _dot(a, b) * lc + _dot(b, c) * la + _dot(c, a) * lb
    return np.asarray(np.sum(np.arctan2(above, below), axis=1) / (2 * np.pi))


def _dot(u: Array, v: Array) -> Array:
    return np.asarray(np.einsum("mni,mni->mn", u, v))
