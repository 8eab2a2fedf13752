"""A pair that may not touch, passing each other on a straight line: settled by what the surfaces pass over.

Where a hand draws back along a part, the gap stays what it is for a long way, and distances at instants would
each settle little of it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handfast.proof.exact import ROUNDING
from handfast.proof.lengths import lengths
from handfast.proof.passed_over import Part, gap_on_way
from handfast.proof.pieces_table import Index
from handfast.proof.scan import Scan, piece_pose
from handfast.proof.stl import Array
from handfast.proof.stretch import Nodes


def passed_by(
    scan: Scan, nodes: Nodes, pair: int, rows: Index, at: int, gap: float, spare: Array
) -> NDArray[np.bool_]:
    """Those of the intervals `rows` (m,), in the order of time, in which a pair, of which one body stands, is
    shown more than `spare` (m,) [m] apart by moving straight on from where it is in interval `at`, `gap` [m]
    apart; none where it can only be shown otherwise."""
    table, none = scan.table, np.zeros(len(rows), dtype=bool)
    ends = int(table.first[pair]), int(table.second[pair])
    moves = [piece for piece in ends if nodes.travel[rows, piece].any()]
    round_all_over = any(len(table.pieces[piece].size) == 1 for piece in ends)
    if len(rows) < 2 or len(moves) != 1 or round_all_over or nodes.stroke[rows][:, ends].any():
        return none
    piece = moves[0]
    centre = nodes.centre[rows, piece] - nodes.centre[at, piece]
    length = float(np.linalg.norm(centre[-1] - centre[0]))
    if length == 0.0:
        return none
    along = (centre[-1] - centre[0]) / length
    low, high, beside = _on_the_line(scan, nodes, rows, at, piece, along)
    straight = beside < (gap - spare) / 2
    if not straight.any():
        return none
    begin, end = float(low[straight].min()), float(high[straight].max())
    half = (end - begin) / 2
    needed = beside + spare + 1e-3 * half + ROUNDING  # the direction is rounded by as much
    poses = [piece_pose(scan, nodes, at, each) for each in ends]
    place = ends.index(piece)
    poses[place] = poses[place].copy()
    poses[place][:3, 3] += (begin + end) / 2 * along
    one, other = (Part(table.pieces[each], 0.0, pose) for each, pose in zip(ends, poses, strict=True))
    apart = gap_on_way(one, other, along, half, float(needed[straight].max()) + ROUNDING)
    return none if apart is None else straight & (apart > needed)


def _on_the_line(
    scan: Scan, nodes: Nodes, rows: Index, at: int, piece: int, along: Array
) -> tuple[Array, Array, Array]:
    """From where to where a piece gets along a line in each interval, from where it is in interval `at`, and
    how far its points get beside that at most, each (m,) [m]."""
    steps, centre = nodes.shift[rows, :, piece], nodes.centre[rows, piece] - nodes.centre[at, piece]
    ahead, own = centre @ along, steps @ along
    beside = lengths(centre - ahead[:, None] * along) + nodes.rest[rows, piece]
    beside += lengths(steps - own[..., None] * along).max(axis=1)
    turned = np.linalg.norm(nodes.axes[rows, piece] - nodes.axes[at, piece], axis=(1, 2))
    beside += turned * float(scan.table.radius[piece])
    low, high = ahead + own.min(axis=1, initial=0.0), ahead + own.max(axis=1, initial=0.0)
    return low, high, beside
