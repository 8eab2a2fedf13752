"""Shapes as triangles, for pictures only: nothing is measured on them."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handfast.geometry.mesh import read_mesh
from handfast.model.shape import Box, Cylinder, Mesh, Shape, Solid, Sphere
from handfast.spatial.se3 import Array

AROUND = 40


def corners_of(solids: tuple[Solid, ...], folder: str) -> Array:
    """Triangles of a body (m, 3, 3) [m] in the frame of the body, outward by the right-hand rule."""
    parts = [transformed(_shape(s.shape, folder), s.pose.matrix) for s in solids]
    return np.concatenate(parts) if parts else np.zeros((0, 3, 3))


def transformed(corners: Array, T: Array) -> Array:
    """Triangles (m, 3, 3) in another frame."""
    return np.asarray(corners @ T[:3, :3].T + T[:3, 3])


def _shape(shape: Shape, folder: str) -> Array:
    if isinstance(shape, Box):
        return _box(shape)
    if isinstance(shape, Cylinder):
        return _cylinder(shape)
    if isinstance(shape, Sphere):
        return _sphere(shape)
    return _mesh(shape, folder)


def _mesh(shape: Mesh, folder: str) -> Array:
    vertices, triangles = read_mesh(Path(folder) / shape.path, shape.scale)
    return np.asarray(vertices[triangles])


def _box(shape: Box) -> Array:
    # Two triangles for the face at +z, turned to the six sides.
    face = np.array([[[-1, -1, 1], [1, -1, 1], [1, 1, 1]], [[-1, -1, 1], [1, 1, 1], [-1, 1, 1]]])
    cycle = [face[..., [i, (i + 1) % 3, (i + 2) % 3]] for i in range(3)]
    back = [-f[:, ::-1] for f in cycle]
    return np.asarray(np.concatenate([*cycle, *back]) * np.array(shape.size) / 2)


def _cylinder(shape: Cylinder) -> Array:
    ring = _ring(shape.radius, -shape.length / 2), _ring(shape.radius, shape.length / 2)
    low, high = np.zeros((1, 3)), np.zeros((1, 3))
    low[0, 2], high[0, 2] = -shape.length / 2, shape.length / 2
    return np.concatenate([_band(low, ring[0]), _band(*ring), _band(ring[1], high)])


def _sphere(shape: Sphere) -> Array:
    angles = np.linspace(-np.pi / 2, np.pi / 2, AROUND // 2 + 1)
    rings = [_ring(shape.radius * float(np.cos(a)), shape.radius * float(np.sin(a))) for a in angles]
    return np.concatenate([_band(a, b) for a, b in pairwise(rings)])


def _ring(radius: float, z: float) -> Array:
    around: NDArray[np.float64] = np.linspace(0, 2 * np.pi, AROUND, endpoint=False)
    return np.stack([radius * np.cos(around), radius * np.sin(around), np.full(AROUND, z)], axis=-1)


def _band(low: Array, high: Array) -> Array:
    """Between two rings, or a ring and a single point, seen from outside."""
    low, high = (np.broadcast_to(r, (AROUND, 3)) for r in (low, high))
    low_next, high_next = np.roll(low, -1, axis=0), np.roll(high, -1, axis=0)
    return np.concatenate(
        [np.stack([low, low_next, high_next], axis=1), np.stack([low, high_next, high], axis=1)]
    )
