"""The gap between a shape that is moved along a line and one that stands, over all of the way: worked out on
those faces alone that can come near the other on it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.proof.exact import gap_up_to
from handfast.proof.faceted import Faceted, of_triangles
from handfast.proof.piece import Piece
from handfast.proof.stl import Array
from handfast.proof.swept import swept
from handfast.spatial import se3

SWEEPS = 16
"""Of what a shape passed over so many are kept: screws that are alike pass over the same."""


@dataclass(frozen=True)
class Part:
    """A shape, drawn in by depth [m], at T_world_shape (4, 4). Not a ball."""

    piece: Piece
    depth: float
    pose: Array

    @property
    def whole(self) -> Faceted:
        """Its geometry; what is round is a little larger."""
        shape = self.piece.drawn(self.depth) if self.depth > 0 else self.piece.geometry
        if not isinstance(shape, Faceted):
            raise TypeError("a ball has no faces to pass over anything")
        return shape


def gap_on_way(one: Part, other: Part, along: Array, half: float, enough: float) -> float | None:
    """The smaller of `enough` and the gap [m] between two surfaces while one of them, no matter which, is
    moved by -half to +half [m] along a unit vector (3,) in the world. None where the larger may be wholly
    inside what the smaller passes over: its surface would be clear of the outside of that."""
    small, large = (one, other) if one.piece.radius <= other.piece.radius else (other, one)
    centre = large.pose[:3, :3].T @ (small.piece.centre_at(small.pose) - large.pose[:3, 3])
    if not large.piece.reaches_past(
        centre, small.piece.radius + half + 3 * max(one.depth, other.depth) + enough
    ):
        return None
    return gap_passed(small, large, along, half, enough)


def gap_passed(moved: Part, still: Part, along: Array, half: float, enough: float) -> float:
    """The smaller of `enough` and the gap [m] between what a surface passes over when it is moved by -half to
    +half [m] along a unit vector (3,) in the world, and another surface.

    along is rounded to 1e-3 in the frame of the shape, which turns it by less than 1e-3 rad.
    """
    direction = np.round(moved.pose[:3, :3].T @ along, 3)
    direction = direction / np.linalg.norm(direction) + 0.0  # no -0.0
    vertices, triangles = moved.whole.faces
    low, high = _around(still.piece, se3.inverse(moved.pose) @ still.pose)
    reach = half * np.abs(direction) + enough
    a, b, c = (vertices[corner] for corner in triangles.T)
    least, most = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    near = ((least <= high + reach) & (most >= low - reach)).all(axis=1)
    if not near.any():
        return enough
    key = (moved.depth, half, direction.tobytes(), near.tobytes())
    known = moved.piece.sweeps
    if key not in known:
        if len(known) == SWEEPS:
            known.pop(next(iter(known)))
        known[key] = of_triangles(*swept(vertices, triangles[near], direction, half))
    return gap_up_to(enough, known[key], moved.pose, still.whole, still.pose)


def _around(piece: Piece, T_frame_shape: Array) -> tuple[Array, Array]:
    """Lowest and highest corner (3,) [m] of a box along the axes of a frame that holds a piece."""
    centre = piece.centre_at(T_frame_shape)
    reach = np.abs(T_frame_shape[:3, :3]) @ piece.half
    return centre - reach, centre + reach
