"""One shape as the proof needs it: for exact distances, for quick bounds, and drawn in."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import coal
import numpy as np

from handfast.model.shape import Box, Cylinder, Mesh, Shape, Sphere
from handfast.proof.faceted import Faceted, of_hull, of_size, of_triangles
from handfast.proof.mesh import drawn_in, is_convex
from handfast.proof.mesh_file import read_mesh_file
from handfast.proof.outline import outline
from handfast.proof.stl import Array, Triangles
from handfast.proof.swept import outermost

MESHES = 64
"""Meshes that are kept in a process, with what was worked out of them."""
SMALLEST = 1e-6
"""What is left of a primitive [m] that is thinner than it is drawn in."""


@dataclass(frozen=True)
class Piece:
    """A shape in its body. T_body_shape (4, 4); geometry: for exact distances.

    centre (3,) in the body frame [m], half (3,): the box around it, along the axes of T_body_shape; radius:
    of the ball around centre; size: edges of a box, (radius, length) of a cylinder, (radius,) of a ball, else
    vertices and triangles.
    """

    T_body_shape: Array
    geometry: Any
    centre: Array
    half: Array
    radius: float
    vertices: Array | None = None
    triangles: Triangles | None = None
    size: tuple[float, ...] = ()
    thinner: dict[float, Any] = field(default_factory=dict, compare=False)
    ends: list[Array] = field(default_factory=list, compare=False)
    sweeps: dict[tuple[object, ...], Faceted] = field(default_factory=dict, compare=False)

    @property
    def hollow(self) -> bool:
        """True for a mesh that is not its own hull."""
        return isinstance(self.geometry, Faceted) and not self.geometry.solid

    def centre_at(self, T_world_shape: Array) -> Array:
        """Middle of the box around it in the world, (3,)."""
        middle = self.T_body_shape[:3, :3].T @ (self.centre - self.T_body_shape[:3, 3])
        return np.asarray(T_world_shape[:3, :3] @ middle + T_world_shape[:3, 3])

    def drawn(self, depth: float) -> Any:
        """The geometry with its surface `depth` [m] further in; made once."""
        if depth not in self.thinner:
            self.thinner[depth] = _thinner(self, depth)
        return self.thinner[depth]

    def reaches_past(self, centre: Array, radius: float) -> bool:
        """True if each connected piece of its surface has a point outside a ball. centre (3,): in the frame
        of the shape. Not of a ball."""
        if not self.ends:
            shape = (self.vertices, self.triangles)
            vertices, triangles = outline(self.size, inside=True) if self.size else shape
            if vertices is not None and triangles is not None:
                self.ends.extend(outermost(vertices, triangles))
        return all(float(np.linalg.norm(points - centre, axis=1).max()) > radius for points in self.ends)


def piece_of(shape: Shape, T_body_shape: Array, folder: Path) -> Piece:
    """A piece from a shape of the project. folder: what mesh paths are relative to. Raises MeshError,
    OSError."""
    if isinstance(shape, Mesh):
        path = folder / shape.path
        made = _of_file(path, shape.scale, _content(path))
        return replace(made, T_body_shape=T_body_shape, centre=placed(made.centre, T_body_shape))
    if isinstance(shape, Box):
        return primitive(shape.size, T_body_shape)
    if isinstance(shape, Cylinder):
        return primitive((shape.radius, shape.length), T_body_shape)
    return _ball(shape, T_body_shape)


@lru_cache(maxsize=MESHES)
def _of_file(path: Path, scale: float, content: bytes) -> Piece:
    """A mesh in its own frame. What is worked out of it is shared by all bodies that have it, and kept for as
    long as the file says the same."""
    return mesh_piece(*read_mesh_file(path, scale), np.eye(4))


def _content(path: Path) -> bytes:
    """What a file holds, in short; nothing where it cannot be read, which reading it will say."""
    try:
        return hashlib.sha256(path.read_bytes()).digest()
    except OSError:
        return b""


def placed(point: Array, T: Array) -> Array:
    """A point (3,) of a shape, in its body."""
    return np.asarray(T[:3, :3] @ point + T[:3, 3])


def _ball(shape: Sphere, T_body_shape: Array) -> Piece:
    return primitive((shape.radius,), T_body_shape)


def primitive(size: tuple[float, ...], T_body_shape: Array) -> Piece:
    """A box (three edges), cylinder (radius, length) or ball (radius), centred on its frame [m]."""
    match size:
        case (x, y, z):
            half = np.array([x, y, z]) / 2
            radius = float(np.linalg.norm(half))
        case (r, length):
            half, radius = np.array([r, r, length / 2]), float(np.hypot(r, length / 2))
        case _:
            half, radius = np.full(3, size[0]), size[0]
    return Piece(T_body_shape, _primitive(size), T_body_shape[:3, 3], half, radius, size=size)


def _primitive(size: tuple[float, ...]) -> Any:
    return coal.Sphere(*size) if len(size) == 1 else of_size(size)


def mesh_piece(vertices: Array, triangles: Triangles, T_body_shape: Array) -> Piece:
    """A piece from vertices (v, 3) [m] and triangles (t, 3)."""
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    middle = (low + high) / 2
    centre = placed(middle, T_body_shape)
    radius = float(np.max(np.linalg.norm(vertices - middle, axis=1)))
    geometry = triangle_geometry(vertices, triangles)
    return Piece(T_body_shape, geometry, centre, (high - low) / 2, radius, vertices, triangles)


def triangle_geometry(vertices: Array, triangles: Triangles) -> Faceted:
    """Exact collision geometry of a mesh: the hull where the mesh is its own hull, its triangles
    elsewhere."""
    return (
        of_hull(vertices, triangles) if is_convex(vertices, triangles) else of_triangles(vertices, triangles)
    )


def _thinner(piece: Piece, depth: float) -> Any:
    if piece.vertices is not None and piece.triangles is not None:
        return triangle_geometry(drawn_in(piece.vertices, piece.triangles, depth), piece.triangles)
    return _primitive(drawn_size(piece.size, depth))


def drawn_size(size: tuple[float, ...], depth: float) -> tuple[float, ...]:
    """Size of a primitive whose surface lies `depth` [m] further in."""
    steps = (2 * depth,) * 3 if len(size) == 3 else (depth, 2 * depth)
    return tuple(max(s - d, SMALLEST) for s, d in zip(size, steps, strict=False))
