"""Meshes and boxes as exact geometry: by the proof's own search where one of two is a mesh, else by coal."""

from __future__ import annotations

from functools import cached_property
from typing import Any

import coal
import numpy as np

from handfast.proof import _compiled
from handfast.proof.stl import Array, Triangles


class TriangleMesh:
    """A surface of triangles with nothing inside. Its trees are made when they are first asked for."""

    def __init__(self, vertices: Array, triangles: Triangles) -> None:
        """Vertices (v, 3) [m], triangles (t, 3)."""
        self._vertices = vertices
        self._triangles = triangles

    @cached_property
    def surface(self) -> _compiled.Surface:
        """As the proof's own search takes it."""
        return _compiled.Surface(self._vertices, np.asarray(self._triangles, dtype=np.int32))

    @cached_property
    def tree(self) -> Any:
        """As coal takes it."""
        tree = coal.BVHModelOBBRSS()
        tree.beginModel(len(self._triangles), len(self._vertices))
        tree.addVertices(self._vertices)
        tree.addTriangles(self._triangles)
        tree.endModel()
        return tree


class Block:
    """A solid box about its origin, along its axes."""

    def __init__(self, size: tuple[float, float, float]) -> None:
        """size: its edges [m]."""
        self._size = size

    @cached_property
    def surface(self) -> _compiled.Surface:
        """As the proof's own search takes it."""
        return _compiled.Surface.solid_box(*self._size)

    @cached_property
    def tree(self) -> Any:
        """As coal takes it."""
        return coal.Box(*self._size)
