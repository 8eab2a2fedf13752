"""Which points lie inside the material of a body."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handfast import _kernel
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
    faces = _mesh(shape, folder, written(shape, folder))
    return np.asarray(np.abs(_kernel.windings(p @ _SLANTED.T, faces)) > 0.5)


@lru_cache(maxsize=256)
def _mesh(mesh: Mesh, folder: str, _written: int) -> Array:
    return _slanted(*read_mesh(Path(folder) / mesh.path, mesh.scale))


def winding_number(points: Array, vertices: Array, triangles: NDArray[np.int64]) -> Array:
    """How often a mesh goes around each point (m, 3): 1 inside a closed outward mesh, 0 outside.

    Counted along a ray from each point: a face crossed from within counts one, from without minus one. The
    ray is slanted against everything that parts are usually drawn along, so that it meets no edge.
    """
    return _kernel.windings(points @ _SLANTED.T, _slanted(vertices, triangles))


def _slanted(vertices: Array, triangles: NDArray[np.int64]) -> Array:
    """Corners of the faces (n, 3, 3) seen along the ray."""
    return np.asarray((vertices @ _SLANTED.T)[triangles])
