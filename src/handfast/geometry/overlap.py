"""How deep bodies lie in each other's material."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

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


def cut(one: Any, others: list[Any]) -> list[Any]:
    """The pieces that a body shares with others, which are apart from each other; all as `placed` makes
    them."""
    from manifold3d import Manifold

    shared = one ^ (others[0] if len(others) == 1 else Manifold.compose(others))
    return [] if shared.is_empty() else list(shared.decompose())


def thickest(pieces: list[Any]) -> float:
    """Twice the volume over the surface of the thickest piece [m]; 0 if there is none."""
    return max((2 * p.volume() / p.surface_area() for p in pieces if p.surface_area() > 0), default=0.0)


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

    whole = Manifold()
    for solid in solids:
        whole += _shape(solid.shape, folder, written(solid.shape, folder)).transform(
            (T_world_body @ solid.pose.matrix)[:3]
        )
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
