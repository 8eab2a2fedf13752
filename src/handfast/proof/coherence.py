"""What one measured gap says of a pair wherever else it is: nearer by no more than it has moved since.

Of two rigid pieces only the pose of one in the frame of the other counts. Where, at some other time, no point
of the piece is further from where it was than a step, the gap is no more than the step smaller, or larger. So
one distance settles most of a motion, and the way back along it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.proof.judged import Judged
from handfast.proof.pieces_table import Index, PieceTable
from handfast.proof.stl import Array
from handfast.proof.stretch import Nodes

KEPT = 8
"""Gaps that are remembered of a pair: the last so many."""


@dataclass(frozen=True)
class Relative:
    """Where the smaller of two pieces is as seen from the other, m times: centre (m, 3) of its ball and axes
    (m, 3, 3) of its box, both in the axes of the other's box; radius (m,) of its ball, half, other (m, 3): of
    its box and the other's [m]."""

    centre: Array
    axes: Array
    radius: Array
    half: Array
    other: Array

    def part(self, own: slice) -> Relative:
        """Some of them."""
        return Relative(self.centre[own], self.axes[own], self.radius[own], self.half[own], self.other[own])

    def boxes_apart(self) -> Array:
        """How far the boxes round both pieces are apart along one of their axes, (m,) [m]: the pieces are no
        less."""
        leaning = np.abs(self.axes)
        along_other = np.abs(self.centre) - self.other - (leaning @ self.half[..., None])[..., 0]
        seen = np.abs((self.centre[:, None] @ self.axes)[:, 0])
        along_own = seen - self.half - (self.other[:, None] @ leaning)[:, 0]
        return np.asarray(np.maximum(along_other.max(axis=1), along_own.max(axis=1)))

    def steps(self, centre: Array, axes: Array) -> Array:
        """How far any point of the smaller piece is at most from where it is when its centre and axes are
        these, (m,) [m].

        |p - p'| <= |c - c'| + r |R - R'|, with the spectral norm of the difference of two rotations, which
        is its Frobenius norm by the square root of two: two of its singular values are equal, one is 0.
        """
        off = self.centre - centre
        turned = (self.axes - axes).reshape(len(off), 9)
        moved = np.sqrt(np.einsum("ij,ij->i", off, off))
        return np.asarray(moved + self.radius * np.sqrt(np.einsum("ij,ij->i", turned, turned) / 2))


def relative(table: PieceTable, nodes: Nodes, rows: Index, pairs: Index) -> Relative:
    """Of a pair at an instant, one a row."""
    first, second = table.first[pairs], table.second[pairs]
    swap = table.radius[first] < table.radius[second]
    large, small = np.where(swap, second, first), np.where(swap, first, second)
    back = nodes.axes[rows, large].transpose(0, 2, 1)
    between = nodes.centre[rows, small] - nodes.centre[rows, large]
    return Relative(
        (back @ between[..., None])[..., 0],
        back @ nodes.axes[rows, small],
        table.radius[small],
        table.half[small],
        table.half[large],
    )


class Gaps:
    """The last gaps measured of each pair of a table: at least so much [m] where it was so placed."""

    def __init__(self, pairs: int) -> None:
        self._centre = np.zeros((pairs, KEPT, 3))
        self._axes = np.zeros((pairs, KEPT, 3, 3))
        self._gap = np.full((pairs, KEPT), -np.inf)
        self._count = np.zeros(pairs, dtype=np.int64)
        self.judged = Judged(pairs)

    def add(self, pair: int, centre: Array, axes: Array, gap: float) -> None:
        """One more; the oldest of the pair is forgotten."""
        place = self._count[pair] % KEPT
        self._centre[pair, place], self._axes[pair, place], self._gap[pair, place] = centre, axes, gap
        self._count[pair] += 1

    def least(self, pairs: Index, places: Relative) -> Array:
        """How far apart each pair is at least where it is now, (m,) [m]."""
        least = np.full(len(pairs), -np.inf)
        for k in range(min(int(self._count[pairs].max(initial=0)), KEPT)):
            steps = places.steps(self._centre[pairs, k], self._axes[pairs, k])
            np.maximum(least, self._gap[pairs, k] - steps, out=least)
        return least
