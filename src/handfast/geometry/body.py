"""Bodies for exact distances: groups of shapes that move together."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from handfast.geometry.mesh import read_mesh
from handfast.model.shape import Box, Cylinder, Shape, Solid, Sphere
from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class Piece:
    """One shape of a body: its coal geometry, T_body_shape (4, 4), and a bounding ball in the body frame."""

    geometry: Any
    pose: Array
    centre: Array
    radius: float


@dataclass(frozen=True, eq=False, slots=True)
class Body:
    """A named group of shapes in one frame."""

    name: str
    pieces: tuple[Piece, ...]


def body(name: str, solids: tuple[Solid, ...], folder: str) -> Body:
    """The exact shapes of a body; mesh paths are relative to the project folder."""
    return Body(name, tuple(_piece(s, folder) for s in solids))


def _piece(solid: Solid, folder: str) -> Piece:
    pose = solid.pose.matrix
    geometry, centre, radius = _geometry(solid.shape, folder)
    return Piece(geometry, pose, pose[:3, :3] @ centre + pose[:3, 3], radius)


def _geometry(shape: Shape, folder: str) -> tuple[Any, Array, float]:
    import coal

    origin = np.zeros(3)
    if isinstance(shape, Box):
        return coal.Box(*shape.size), origin, float(np.linalg.norm(shape.size)) / 2
    if isinstance(shape, Cylinder):
        return coal.Cylinder(shape.radius, shape.length), origin, float(np.hypot(shape.radius, shape.length / 2))
    if isinstance(shape, Sphere):
        return coal.Sphere(shape.radius), origin, shape.radius
    vertices, triangles = read_mesh(Path(folder) / shape.path, shape.scale)
    model = coal.BVHModelOBBRSS()
    model.beginModel(len(triangles), len(vertices))
    model.addVertices(vertices)
    model.addTriangles(np.asarray(triangles))
    model.endModel()
    centre = (vertices.min(axis=0) + vertices.max(axis=0)) / 2
    return model, centre, float(np.linalg.norm(vertices - centre, axis=1).max())


def distance(a: Body, T_world_a: Array, b: Body, T_world_b: Array, beyond: float = np.inf) -> float:
    """Distance between two bodies [m]; zero or less if they touch. Not refined where it is surely over `beyond`."""
    import coal

    least = np.inf
    request, result = coal.DistanceRequest(), coal.DistanceResult()
    for p in a.pieces:
        centre_p = T_world_a[:3, :3] @ p.centre + T_world_a[:3, 3]
        for q in b.pieces:
            centre_q = T_world_b[:3, :3] @ q.centre + T_world_b[:3, 3]
            bound = float(np.linalg.norm(centre_p - centre_q)) - p.radius - q.radius
            if bound >= min(least, beyond):
                least = min(least, bound)
                continue
            result.clear()
            d = coal.distance(
                p.geometry, _transform(T_world_a @ p.pose), q.geometry, _transform(T_world_b @ q.pose), request, result
            )
            least = min(least, float(d))
    return least


def _transform(pose: Array) -> Any:
    import coal

    return coal.Transform3s(np.ascontiguousarray(pose[:3, :3]), np.ascontiguousarray(pose[:3, 3]))
