"""How deep bodies lie in each other's material."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handfast.geometry.mesh import read_mesh
from handfast.model.shape import Box, Cylinder, Mesh, Shape, Solid, Sphere
from handfast.spatial.se3 import Array

SEGMENTS = 64


def overlap_depth(
    a: tuple[Solid, ...], T_world_a: Array, b: tuple[Solid, ...], T_world_b: Array, folder: str
) -> float:
    """Thickness [m] of the thickest piece of material that both bodies claim; 0 if there is none.

    The thickness of a piece is twice its volume over its surface: exact for a thin layer, whichever way it
    runs. Round shapes are inscribed polygons of 64 sides. A mesh that does not close claims nothing.
    """
    near_a, near_b = _near(a, T_world_a, b, T_world_b, folder)
    if not near_a or not near_b:
        return 0.0
    return thickest(cut(placed(near_a, T_world_a, folder), [placed(near_b, T_world_b, folder)]))


@dataclass(frozen=True, eq=False, slots=True)
class Piece:
    """Material that two bodies both claim: the box around it (3,), (3,) [m], and its thickness [m], twice its
    volume over its surface."""

    low: Array
    high: Array
    thickness: float


def cut(one: Any, others: list[Any]) -> list[Piece]:
    """The pieces that a body shares with others, which are apart from each other; all as `placed` makes
    them."""
    from manifold3d import Manifold

    shared = one ^ (others[0] if len(others) == 1 else Manifold.compose(others))
    if shared.is_empty():
        return []
    mesh = shared.to_mesh64()
    corners, triangles = np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts, dtype=np.int64)
    return list(_pieces(corners, triangles))


def _pieces(corners: Array, triangles: NDArray[np.int64]) -> Iterator[Piece]:
    """The pieces of a closed surface: triangles (m, 3) that hang together by their corners (n, 3)."""
    label = hanging_together(triangles, len(corners))[triangles[:, 0]]
    order = np.argsort(label, kind="stable")
    starts = np.flatnonzero(np.concatenate([[True], np.diff(label[order]) > 0]))
    a, b, c = corners[triangles[order]].transpose(1, 0, 2)
    across = np.cross(b - a, c - a)
    # Volumes about a corner of each piece: about the world's origin they would drown in rounding.
    base = np.repeat(a[starts], np.diff(np.append(starts, len(order))), axis=0)
    volume = np.add.reduceat(np.einsum("ij,ij->i", a - base, across), starts) / 6
    surface = np.add.reduceat(np.sqrt(np.einsum("ij,ij->i", across, across)), starts) / 2
    low = np.minimum.reduceat(np.minimum(np.minimum(a, b), c), starts)
    high = np.maximum.reduceat(np.maximum(np.maximum(a, b), c), starts)
    for k in np.flatnonzero(surface > 0):
        yield Piece(low[k], high[k], float(2 * volume[k] / surface[k]))


def hanging_together(triangles: NDArray[np.int64], count: int) -> NDArray[np.int64]:
    """For each of `count` corners the least corner that it hangs together with by triangles (m, 3)."""
    label = np.arange(count)
    while True:
        least = label[triangles].min(axis=1)
        new = label.copy()
        for k in range(3):
            np.minimum.at(new, label[triangles[:, k]], least)
        new = new[new]
        if (new == label).all():
            return label
        label = new


def thickest(pieces: list[Piece]) -> float:
    """The thickness of the thickest piece [m]; 0 if there is none."""
    return max((p.thickness for p in pieces), default=0.0)


def _near(
    a: tuple[Solid, ...], T_world_a: Array, b: tuple[Solid, ...], T_world_b: Array, folder: str
) -> tuple[tuple[Solid, ...], tuple[Solid, ...]]:
    """The solids of each body whose boxes meet one of the other's: most of a cell are nowhere near each
    other, and a tray has many."""
    boxes_a = [(s, box_around(s, T_world_a, folder)) for s in a]
    boxes_b = [(s, box_around(s, T_world_b, folder)) for s in b]
    return (
        tuple(s for s, box in boxes_a if any(_meet(box, other) for _, other in boxes_b)),
        tuple(s for s, box in boxes_b if any(_meet(box, other) for _, other in boxes_a)),
    )


def _meet(one: tuple[Array, Array], other: tuple[Array, Array]) -> bool:
    return bool((one[0] <= other[1]).all() and (other[0] <= one[1]).all())


def box_around(solid: Solid, T_world_body: Array, folder: str) -> tuple[Array, Array]:
    """Least and largest coordinates of a box that contains the solid [m]; of an empty one none. Raises
    MeshError."""
    drawn = _shape(solid.shape, folder, written(solid.shape, folder))
    if drawn.is_empty():
        return np.full(3, np.inf), np.full(3, -np.inf)
    bounds = drawn.bounding_box()
    first, last = np.array(bounds[:3]), np.array(bounds[3:])
    T = T_world_body @ solid.pose.matrix
    middle, half = T[:3, :3] @ ((first + last) / 2) + T[:3, 3], np.abs(T[:3, :3]) @ ((last - first) / 2)
    return middle - half, middle + half


def placed(solids: tuple[Solid, ...], T_world_body: Array, folder: str) -> Any:
    """The material of some solids of a body at T_world_body (4, 4). Raises MeshError."""
    from manifold3d import Manifold

    drawn = [
        _shape(solid.shape, folder, written(solid.shape, folder)).transform(
            (T_world_body @ solid.pose.matrix)[:3]
        )
        for solid in solids
    ]
    whole = drawn[0] if drawn else Manifold()
    for other in drawn[1:]:
        whole += other
    return whole


def written(shape: Shape, folder: str) -> int:
    """When a mesh file was last written, so that an edited one is read again."""
    path = Path(folder) / shape.path if isinstance(shape, Mesh) else None
    return path.stat().st_mtime_ns if path is not None and path.exists() else 0


@lru_cache(maxsize=256)
def _shape(shape: Shape, folder: str, _written: int) -> Any:
    from manifold3d import Manifold
    from manifold3d import Mesh as Triangles

    if isinstance(shape, Box):
        return Manifold.cube(shape.size, True)
    if isinstance(shape, Cylinder):
        return Manifold.cylinder(shape.length, shape.radius, shape.radius, SEGMENTS, True)
    if isinstance(shape, Sphere):
        return Manifold.sphere(shape.radius, SEGMENTS)
    vertices, triangles = read_mesh(Path(folder) / shape.path, shape.scale)
    return Manifold(Triangles(vertices.astype(np.float32), triangles.astype(np.uint32)))
