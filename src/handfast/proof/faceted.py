"""Exact geometry: for the proof's own search where one of two is a mesh with hollows, else for coal."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property, lru_cache
from typing import Any

import coal
import numpy as np

from handfast.proof import _compiled
from handfast.proof.outline import outline
from handfast.proof.stl import Array, Triangles


class Faceted:
    """A shape of which the triangles are known. What either search takes is made when first asked for."""

    def __init__(
        self, faces: Callable[[], tuple[Array, Triangles]], of_coal: Callable[[], Any], solid: bool
    ) -> None:
        """faces: its vertices (v, 3) [m] and outward triangles (t, 3); of_coal: the same for coal; solid:
        convex, with all that is in it, else the surface alone."""
        self._faces, self._of_coal, self.solid = faces, of_coal, solid

    @cached_property
    def faces(self) -> tuple[Array, Triangles]:
        """Its vertices (v, 3) [m] and triangles (t, 3)."""
        return self._faces()

    @cached_property
    def surface(self) -> _compiled.Surface:
        """As the proof's own search takes it."""
        vertices, triangles = self.faces
        return _compiled.Surface(vertices, np.asarray(triangles, dtype=np.int32), self.solid)

    @cached_property
    def tree(self) -> Any:
        """As coal takes it."""
        return self._of_coal()


def of_triangles(vertices: Array, triangles: Triangles) -> Faceted:
    """A surface with nothing inside."""

    def tree() -> Any:
        out = coal.BVHModelOBBRSS()
        out.beginModel(len(triangles), len(vertices))
        out.addVertices(vertices)
        out.addTriangles(triangles)
        out.endModel()
        return out

    return Faceted(lambda: (vertices, triangles), tree, solid=False)


def of_hull(vertices: Array, triangles: Triangles) -> Faceted:
    """A mesh that is its own hull."""

    def hull() -> Any:
        points, faces = coal.StdVec_Vec3s(), coal.StdVec_Triangle()
        points.extend(list(vertices))
        faces.extend([coal.Triangle(int(a), int(b), int(c)) for a, b, c in triangles])
        return coal.Convex(points, faces)

    return Faceted(lambda: (vertices, triangles), hull, solid=True)


@lru_cache(maxsize=256)
def of_size(size: tuple[float, ...]) -> Faceted:
    """A box (three edges) or a cylinder (radius, length) [m]. Against a mesh a cylinder counts as large as
    its outline, by 1.2 thousandths of the radius at most."""
    shape = coal.Box if len(size) == 3 else coal.Cylinder
    return Faceted(lambda: outline(size), lambda: shape(*size), solid=True)
