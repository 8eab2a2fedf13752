"""Quick bounds, for many pairs at once: how far they are apart at least, how far they move at most."""

from __future__ import annotations

import numpy as np

from handfast.proof.lengths import lengths
from handfast.proof.pieces_table import Index, PieceTable
from handfast.proof.scan import Scan
from handfast.proof.stl import Array
from handfast.proof.stretch import Nodes


def relative_travel(scan: Scan, nodes: Nodes, groups: Index, rows: Index, pairs: Index) -> Array:
    """How far two pieces move at most relative to each other, one number a row [m]."""
    a, b = scan.table.first[pairs], scan.table.second[pairs]
    apart = nodes.travel[rows, a] + nodes.travel[rows, b]
    arms = scan.arm_numbers
    joint_a, joint_b = scan.joint_of[a], scan.joint_of[b]
    same = (
        (arms[a] == arms[b]) & (nodes.travel[rows, a] + nodes.travel[rows, b] > 0) & (joint_a * joint_b > 0)
    )
    outer, inner = np.where(joint_a >= joint_b, a, b), np.minimum(joint_a, joint_b)
    chain = nodes.tail[rows, outer, inner]
    return np.asarray(np.where(same, chain, apart) + nodes.stroke[rows, a] + nodes.stroke[rows, b])


def near(table: PieceTable, nodes: Nodes, rows: Index, pairs: Index, within: Array | float) -> Index:
    """Places of the pairs that are not shown further apart than `within`, (m,) or for all [m]: by the balls
    round both pieces, and each ball from the other's box."""
    a, b = table.first[pairs], table.second[pairs]
    between = nodes.centre[rows, b] - nodes.centre[rows, a]
    reach = np.maximum(table.radius[a] + table.radius[b] + within, 0.0)
    kept = np.flatnonzero(np.einsum("ij,ij->i", between, between) <= reach**2)
    rows, a, b, between = rows[kept], a[kept], b[kept], between[kept]
    to_a = _to_box(nodes.axes[rows, a], table.half[a], between) - table.radius[b]
    to_b = _to_box(nodes.axes[rows, b], table.half[b], between) - table.radius[a]
    return kept[np.maximum(to_a, to_b) <= np.broadcast_to(within, len(pairs))[kept]]


def may_meet(table: PieceTable, around: list[Nodes], pairs: Index, floor: float) -> Index:
    """Those of the pairs whose pieces could come within `floor` [m] of each other in any of the intervals:
    the boxes along the world's axes that hold each piece all the time do."""
    low, high = np.full((len(table.pieces), 3), np.inf), np.full((len(table.pieces), 3), -np.inf)
    for nodes in around:
        reach = (table.radius + nodes.travel + nodes.stroke)[..., None]
        low = np.minimum(low, (nodes.centre - reach).min(axis=0))
        high = np.maximum(high, (nodes.centre + reach).max(axis=0))
    a, b = table.first[pairs], table.second[pairs]
    apart = np.maximum(low[a] - high[b], low[b] - high[a]).max(axis=1)
    return np.asarray(pairs[apart <= floor])


def _to_box(axes: Array, half: Array, between: Array) -> Array:
    inside = np.abs(np.einsum("kab,ka->kb", axes, between)) - half
    return np.asarray(lengths(np.maximum(inside, 0.0)))
