"""Conservative covers for free space: spheres over what moves, boxes over what stands still.

A cover contains its shape; it loses some millimetres of clearance, so it is for free space only. Near contact
the exact shapes decide (body.py).
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np

from handfast import _kernel
from handfast.geometry.kept import kept
from handfast.geometry.mesh import read_mesh
from handfast.model.shape import Box, Cylinder, Shape, Solid, Sphere
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_LEAVES = 12  # boxes at most over one mesh
_SHARES = np.array([0.15, 0.3, 0.5, 0.7, 0.85])  # of its length, where a box may be cut


def boxes(solids: tuple[Solid, ...], folder: str) -> tuple[Array, Array]:
    """Boxes that contain the surfaces of the solids: poses (b, 4, 4) in the body frame, half extents (b, 3)
    [m]."""
    poses: list[Array] = []
    halves: list[Array] = []
    for solid in solids:
        for centre, half in _leaf_boxes(solid.shape, folder):
            poses.append(solid.pose.matrix @ se3.translation(*centre))
            halves.append(half)
    return np.array(poses).reshape(-1, 4, 4), np.array(halves).reshape(-1, 3)


def spheres(solids: tuple[Solid, ...], folder: str, cell: float = 0.03) -> Array:
    """Spheres that contain the solids, (k, 4): centre in the body frame and radius [m]; cell: edge of the
    grid [m]."""
    out: list[Array] = []
    for solid in solids:
        if isinstance(solid.shape, Sphere):
            local = np.array([[0.0, 0.0, 0.0, solid.shape.radius]])
        elif isinstance(solid.shape, Cylinder):
            local = _along_axis(solid.shape, cell)
        else:
            local = np.concatenate([_over_box(c, h, cell) for c, h in _leaf_boxes(solid.shape, folder)])
        centres = local[:, :3] @ solid.pose.matrix[:3, :3].T + solid.pose.matrix[:3, 3]
        out.append(np.column_stack([centres, local[:, 3]]))
    return np.concatenate(out) if out else np.zeros((0, 4))


def _along_axis(cylinder: Cylinder, cell: float) -> Array:
    """Spheres along the axis, each around a slice; a slice as thick as the radius costs 12 % in radius."""
    slices = max(1, int(np.ceil(cylinder.length / max(cell, cylinder.radius))))
    thick = cylinder.length / slices
    z = (np.arange(slices) + 0.5) * thick - cylinder.length / 2
    radius = np.hypot(cylinder.radius, thick / 2)
    return np.column_stack([np.zeros(slices), np.zeros(slices), z, np.full(slices, radius)])


def _over_box(centre: Array, half: Array, cell: float) -> Array:
    count = np.maximum(1, np.ceil(2 * half / cell)).astype(int)
    step = 2 * half / count
    axes = [centre[i] - half[i] + (np.arange(count[i]) + 0.5) * step[i] for i in range(3)]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), -1).reshape(-1, 3)
    return np.column_stack([grid, np.full(len(grid), np.linalg.norm(step) / 2)])


def _leaf_boxes(shape: Shape, folder: str) -> list[tuple[Array, Array]]:
    zero = np.zeros(3)
    if isinstance(shape, Box):
        return [(zero, np.array(shape.size) / 2)]
    if isinstance(shape, Cylinder):
        return [(zero, np.array([shape.radius, shape.radius, shape.length / 2]))]
    if isinstance(shape, Sphere):
        return [(zero, np.full(3, shape.radius))]
    path = Path(folder) / shape.path
    return _mesh_boxes(str(path), shape.scale, path.stat().st_mtime_ns if path.exists() else 0)


@lru_cache(maxsize=512)
def _mesh_boxes(path: str, scale: float, _written: int) -> list[tuple[Array, Array]]:
    vertices, triangles = read_mesh(path, scale)

    def split() -> Array:
        return np.array(_split(vertices[triangles], _volume(vertices, triangles)))

    return [(row[0], row[1]) for row in kept("boxes", (vertices, triangles), split)]


def _volume(vertices: Array, triangles: np.ndarray) -> float:
    a, b, c = (vertices[triangles[:, i]] for i in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)


def _split(corners: Array, volume: float) -> list[tuple[Array, Array]]:
    """Boxes over the triangles (m, 3, 3): one if the shape nearly fills its box, else halved where that saves
    most."""
    whole = _bounds(corners)
    if volume > 0.6 * np.prod(2 * whole[1]):
        return [whole]
    a, b, c = _subdivide(corners, 0.15 * float(whole[1].max() * 2)).transpose(1, 0, 2)
    first = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c), (a + b + c) / 3
    leaves = [(first, *_kernel.best_cut(*first, _SHARES))]
    while len(leaves) < _LEAVES:
        index = max(range(len(leaves)), key=lambda i: leaves[i][1])
        leaf, best, cut = leaves[index]
        if best <= 0.02 * np.prod(2 * whole[1]):
            break
        del leaves[index]
        for side in (cut, ~cut):
            half = leaf[0][side], leaf[1][side], leaf[2][side]
            leaves.append((half, *_kernel.best_cut(*half, _SHARES)))
    return [_bounds(np.stack(leaf[:2])) for leaf, _, _ in leaves]


def _bounds(corners: Array) -> tuple[Array, Array]:
    low, high = corners.reshape(-1, 3).min(axis=0), corners.reshape(-1, 3).max(axis=0)
    return (low + high) / 2, (high - low) / 2


def _subdivide(corners: Array, edge: float) -> Array:
    """Triangles cut until no edge is longer than `edge`, so that a box can be cut between them."""
    done = []
    for _ in range(12):
        sides = np.linalg.norm(corners - np.roll(corners, -1, axis=1), axis=2)
        long = sides.max(axis=1) > edge
        done.append(corners[~long])
        if not long.any():
            break
        c, s = corners[long], sides[long].argmax(axis=1)
        rows = np.arange(len(c))
        a, b, opposite = c[rows, s], c[rows, (s + 1) % 3], c[rows, (s + 2) % 3]
        middle = (a + b) / 2
        corners = np.concatenate([np.stack([a, middle, opposite], 1), np.stack([middle, b, opposite], 1)])
    else:
        done.append(corners)
    return np.concatenate(done)
