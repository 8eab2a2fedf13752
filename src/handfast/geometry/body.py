"""Bodies for exact distances: groups of shapes that move together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache, partial
from pathlib import Path
from typing import Any

import numpy as np

from handfast.geometry.mesh import Triangles, read_mesh
from handfast.model.shape import Box, Cylinder, Mesh, Shape, Solid, Sphere
from handfast.spatial.se3 import Array

_FAR = 1e3  # nothing in a cell is further apart [m]


@dataclass(frozen=True, eq=False)
class Piece:
    """One shape of a body: what draws it, T_body_shape (4, 4), and its bounds in the shape's own frame: a box
    (middle and half extents) and the ball around it."""

    draw: Callable[[], Any]
    pose: Array
    middle: Array
    half: Array
    radius: float

    @cached_property
    def geometry(self) -> Any:
        """For coal; drawn when it is first asked for, since what nothing comes near is never measured."""
        return self.draw()


@dataclass(frozen=True, eq=False, slots=True)
class Body:
    """A named group of shapes in one frame."""

    name: str
    pieces: tuple[Piece, ...]


def body(name: str, solids: tuple[Solid, ...], folder: str) -> Body:
    """The exact shapes of a body; mesh paths are relative to the project folder."""
    return Body(name, tuple(_piece(s, folder, written(s, folder)) for s in solids))


def written(solid: Solid, folder: str) -> int:
    """When a mesh file was last written, so that an edited one is read again."""
    if not isinstance(solid.shape, Mesh):
        return 0
    path = Path(folder) / solid.shape.path
    return path.stat().st_mtime_ns if path.exists() else 0


@lru_cache(maxsize=1024)
def _piece(solid: Solid, folder: str, _written: int) -> Piece:
    geometry, middle, half = _geometry(solid.shape, folder)
    return Piece(geometry, solid.pose.matrix, middle, half, float(np.linalg.norm(half)))


def _geometry(shape: Shape, folder: str) -> tuple[Callable[[], Any], Array, Array]:
    import coal

    origin = np.zeros(3)
    if isinstance(shape, Box):
        return partial(coal.Box, *shape.size), origin, np.array(shape.size) / 2
    if isinstance(shape, Cylinder):
        half = np.array([shape.radius, shape.radius, shape.length / 2])
        return partial(coal.Cylinder, shape.radius, shape.length), origin, half
    if isinstance(shape, Sphere):
        return partial(coal.Sphere, shape.radius), origin, np.full(3, shape.radius)
    vertices, triangles = read_mesh(Path(folder) / shape.path, shape.scale)
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    return partial(_triangles, vertices, triangles), (low + high) / 2, (high - low) / 2


def _triangles(vertices: Array, triangles: Triangles) -> Any:
    import coal

    model = coal.BVHModelOBBRSS()
    model.beginModel(len(triangles), len(vertices))
    model.addVertices(vertices)
    model.addTriangles(np.asarray(triangles))
    model.endModel()
    return model


def along_its_axis(p: Piece, T_world_p: Array, step: Array) -> tuple[Piece, Array] | None:
    """All that a box or a cylinder passes over on a straight step (3,) [m] along one of its own axes, as one
    shape with its pose; None where the step goes another way or the shape is another one."""
    import coal

    length = float(np.linalg.norm(step))
    if length == 0.0:
        return None
    along = np.abs(T_world_p[:3, :3].T @ step) / length
    axis = int(np.argmax(along))
    if along[axis] < 1.0 - 1e-13:
        return None
    half = p.half.copy()
    half[axis] += length / 2
    if isinstance(p.geometry, coal.Box):
        longer = partial(coal.Box, *(2 * half))
    elif isinstance(p.geometry, coal.Cylinder) and axis == 2:
        longer = partial(coal.Cylinder, float(half[0]), float(2 * half[2]))
    else:
        return None
    T = T_world_p.copy()
    T[:3, 3] += step / 2
    return Piece(longer, p.pose, p.middle, half, float(np.linalg.norm(half))), T


class Shapes:
    """The shapes of a body as tables: T_body_shape (k, 4, 4), the middle of each as a column (k, 4, 1), half
    the extents of the box around it (k, 3) and the radius of the ball (k,) [m]."""

    def __init__(self, body: Body) -> None:
        self.poses = np.array([p.pose for p in body.pieces]).reshape(-1, 4, 4)
        self.middles = np.array([[*p.middle, 1.0] for p in body.pieces]).reshape(-1, 4, 1)
        self.halves = np.array([p.half for p in body.pieces]).reshape(-1, 3)
        self.radii = np.array([p.radius for p in body.pieces])


shapes_of = lru_cache(maxsize=1024)(Shapes)


def distance(a: Body, T_world_a: Array, b: Body, T_world_b: Array, enough: float = np.inf) -> float:
    """Distance between two bodies [m]; zero or less if they touch; `enough` [m] where it is more than
    that."""
    of_a, of_b = shapes_of(a), shapes_of(b)
    poses_a, poses_b = T_world_a @ of_a.poses, T_world_b @ of_b.poses
    between = (poses_a @ of_a.middles)[:, None, :3, 0] - (poses_b @ of_b.middles)[None, :, :3, 0]
    apart = np.sqrt((between * between).sum(axis=2)) - of_a.radii[:, None] - of_b.radii[None, :]
    least = enough
    for place in np.argsort(apart, axis=None, kind="stable"):  # the nearest balls first
        i, j = divmod(int(place), len(of_b.radii))
        if apart[i, j] >= least:
            break
        least = min(least, piece_distance(a.pieces[i], poses_a[i], b.pieces[j], poses_b[j], least))
    return least


def piece_distance(p: Piece, T_p: Array, q: Piece, T_q: Array, enough: float = np.inf) -> float:
    """Distance of two shapes at T_world_shape [m]; `enough` [m] where it is more than that, which is found
    out sooner."""
    return Pair(p, T_p, q, T_q).distance(enough)


class Pair:
    """Two shapes at T_world_shape, of which the first may be carried along without turning."""

    def __init__(self, p: Piece, T_p: Array, q: Piece, T_q: Array) -> None:
        import coal

        self._coal, self._request = coal, coal.DistanceRequest()
        self._shapes = (p.geometry, q.geometry)
        self._at = (coal.Transform3s(T_p[:3, :3], T_p[:3, 3]), coal.Transform3s(T_q[:3, :3], T_q[:3, 3]))

    def moved_to(self, origin: Array) -> None:
        """Put the first shape's origin at a point in the world (3,) [m]."""
        self._at[0].setTranslation(origin)

    def distance(self, enough: float = np.inf) -> float:
        """Their distance [m]; `enough` [m] where it is more than that, which is found out sooner."""
        result = self._coal.DistanceResult()
        result.min_distance = min(enough, _FAR)
        (p, q), (T_p, T_q) = self._shapes, self._at
        self._coal.distance(p, T_p, q, T_q, self._request, result)
        return min(float(result.min_distance), enough)
