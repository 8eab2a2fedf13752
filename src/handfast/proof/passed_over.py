"""The gap between a shape that is moved along a line and one that stands, over all of the way: worked out on
those of their faces alone that can come near each other."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from handfast.proof.exact import gap_up_to
from handfast.proof.outline import outline
from handfast.proof.piece import Piece, drawn_size, triangle_tree
from handfast.proof.stl import Array, Triangles
from handfast.proof.swept import swept
from handfast.spatial import se3

MOST_OF_IT = 0.5
"""A shape of which more than this share of the faces can come near is asked about as a whole."""


@dataclass(frozen=True)
class Part:
    """A shape, drawn in by depth [m], at T_world_shape (4, 4). Not a ball."""

    piece: Piece
    depth: float
    pose: Array

    @cached_property
    def faces(self) -> tuple[Array, Triangles]:
        """Vertices (v, 3) and triangles (t, 3) of its surface as it is drawn in, in its own frame; what is
        round is a little larger."""
        if self.piece.triangles is None:
            return outline(drawn_size(self.piece.size, self.depth))
        return self.piece.surface(self.depth), self.piece.triangles

    @property
    def whole(self) -> object:
        """Its collision geometry."""
        return self.piece.drawn(self.depth) if self.depth > 0 else self.piece.geometry


def gap_passed(moved: Part, still: Part, along: Array, half: float, enough: float) -> float:
    """The smaller of `enough` and the gap [m] between what a surface passes over when it is moved by -half to
    +half [m] along a unit vector (3,) in the world, and another surface.

    along is rounded to 1e-3 in the frame of the shape, which turns it by less than 1e-3 rad.
    """
    direction = np.round(moved.pose[:3, :3].T @ along, 3)
    direction /= np.linalg.norm(direction)
    T_moved_still = se3.inverse(moved.pose) @ still.pose
    (vertices, triangles), (points, around) = moved.faces, still.faces
    seen = points @ T_moved_still[:3, :3].T + T_moved_still[:3, 3]
    own, others = near_faces(
        _boxes(vertices, triangles, half * np.abs(direction)),
        _boxes(seen, around),
        enough,
    )
    if not own.any():
        return enough
    surface = triangle_tree(*swept(vertices, triangles[own], direction, half))
    if not still.piece.hollow or others.mean() > MOST_OF_IT:
        other = still.whole
    else:
        other = triangle_tree(points, around[others])
    return gap_up_to(enough, surface, moved.pose, other, still.pose)


Boxes = tuple[Array, Array]
"""Lowest and highest corners of boxes along the axes of one frame, each (t, 3) [m]."""
Chosen = NDArray[np.bool_]


def _boxes(vertices: Array, triangles: Triangles, further: Array | float = 0.0) -> Boxes:
    """Around each triangle, and so much further either way."""
    a, b, c = (vertices[triangles[:, i]] for i in range(3))
    return np.minimum(np.minimum(a, b), c) - further, np.maximum(np.maximum(a, b), c) + further


def near_faces(one: Boxes, other: Boxes, reach: float) -> tuple[Chosen, Chosen]:
    """Those of the one that lie within reach [m] of the box round those of the other that are left, and the
    other way about: all pairs that come within reach of each other are among them."""
    own, others = np.ones(len(one[0]), dtype=bool), np.ones(len(other[0]), dtype=bool)
    for _ in range(2):
        own &= _meets(one, other, others, reach)
        others &= _meets(other, one, own, reach)
    return own, others


def _meets(boxes: Boxes, other: Boxes, left: Chosen, reach: float) -> Chosen:
    if not left.any():
        return np.zeros(len(boxes[0]), dtype=bool)
    low, high = other[0][left].min(axis=0) - reach, other[1][left].max(axis=0) + reach
    return np.asarray(((boxes[0] <= high) & (boxes[1] >= low)).all(axis=1))
