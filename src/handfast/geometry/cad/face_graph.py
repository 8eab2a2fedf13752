"""A solid as its faces and the edges between them: what features are read from. Plain numbers, in metres."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from handfast.spatial.se3 import Array

SurfaceKind = Literal["plane", "cylinder", "cone", "sphere", "torus", "free"]
Bend = Literal["convex", "concave", "smooth"]


@dataclass(frozen=True, eq=False, slots=True)
class Face:
    """One face. axis: unit, of a plane its outward normal; origin: a point on the plane or axis, the centre
    of a sphere; radius: of a cylinder, sphere, of the circle a torus runs along, of a cone at its origin;
    half_angle: of a cone, the radius grows along the axis by its tangent; tube: radius of a torus' section.
    outward: +1 where the material is on the side of the axis (a shaft), -1 where it is outside (a hole).
    points (n, 3): on the face and its border; area [m2]; recognised: drawn as a general surface, and off the
    named one by at most `misfit` [m]. samples, normals (m, 3): points inside it with their outward unit
    normals.
    """

    index: int
    kind: SurfaceKind
    origin: Array
    axis: Array
    radius: float
    half_angle: float
    tube: float
    outward: int
    points: Array
    area: float
    centre: Array
    recognised: bool = False
    misfit: float = 0.0
    samples: Array | None = None
    normals: Array | None = None


@dataclass(frozen=True, eq=False, slots=True)
class Edge:
    """Where two faces meet. points (n, 3) along it; bend: how the outside turns there; closed: a full
    loop."""

    faces: tuple[int, int]
    points: Array
    bend: Bend
    closed: bool
    straight: bool


@dataclass(frozen=True, eq=False, slots=True)
class FaceGraph:
    """faces, edges; the same as triangles: vertices (v, 3) [m], triangles (t, 3), of_face (t,): the face that
    each belongs to; volume [m3], centre of mass [m], inertia (3, 3) [m5] about it at unit density; from_mesh:
    whether its faces were made out of facets, and deviation: how far these leave them at most [m]."""

    faces: tuple[Face, ...]
    edges: tuple[Edge, ...]
    vertices: Array
    triangles: NDArray[np.int64]
    of_face: NDArray[np.int64]
    volume: float
    centre: Array
    inertia: Array = field(default_factory=lambda: np.zeros((3, 3)))
    from_mesh: bool = False
    deviation: float = 0.0
