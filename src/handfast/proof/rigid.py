"""Pairs that keep their relative pose in a stretch: looked at once, and only where something has changed."""

from __future__ import annotations

import numpy as np

from handfast.proof.allowances import Allowance
from handfast.proof.bounds import near
from handfast.proof.coherence import relative
from handfast.proof.exact import ROUNDING, gap_up_to
from handfast.proof.pieces_table import Index
from handfast.proof.scan import Scan, gap_between, placed, relieved
from handfast.proof.stl import Array
from handfast.proof.stretch import Nodes
from handfast.proof.tally import Meeting
from handfast.proof.tolerances import RESOLUTION

SPARE = 2e-3
"""A gap of a pair that stands still is measured up to this much more than is asked for [m]."""


def rigid(scan: Scan, nodes: Nodes, pairs: Index) -> None:
    """Add to the tally what is found of pairs that keep their relative pose in a stretch. nodes: at its
    start."""
    rows = np.zeros(len(pairs), dtype=np.int64)
    pairs = pairs[near(scan.table, nodes, rows, pairs, max(scan.tally.floor(), RESOLUTION))]
    if not len(pairs):
        return
    places, known = relative(scan.table, nodes, rows[: len(pairs)], pairs), scan.tally.gaps_of(scan.table)
    least = np.maximum(known.least(pairs, places), places.boxes_apart())
    asked = np.flatnonzero(scan.may_touch[pairs] | (least <= scan.tally.floor() + ROUNDING))
    pairs = pairs[asked]
    where = np.column_stack([places.centre, places.axes.reshape(-1, 9)])[asked]
    keys: Array = np.asarray(np.round(where, 9) + 0.0, dtype=np.float64)  # no -0.0
    for k in np.flatnonzero(~known.judged.as_before(pairs, keys, scan.allowed_as[pairs])):
        pair = int(pairs[k])
        clear, reason = _remembered(scan, nodes, pair, keys[k].tobytes())
        known.judged.keep(pair, keys[k], scan.allowances(pair), reason if clear else None)
        if not clear:
            a, b = scan.names(pair)
            gap = gap_between(scan, nodes, 0, pair)
            scan.tally.met(Meeting(a, b, scan.element_of(pair), scan.stretch.start, gap, reason))
    for pair, reason in known.judged.touching(pairs):
        scan.tally.touched(*scan.names(pair), reason, scan.stretch.duration)


def _remembered(scan: Scan, nodes: Nodes, pair: int, relative: bytes) -> tuple[bool, str]:
    """Whether a pair is clear here, and why it may touch if it does. relative: where the one is as seen from
    the other."""
    allowances = scan.allowances(pair)
    key = (pair, relative, tuple(allowance.reason for allowance in allowances))
    if key not in scan.tally.known:
        scan.tally.known[key] = _still(scan, nodes, pair, allowances)
    return scan.tally.known[key]


def _still(scan: Scan, nodes: Nodes, pair: int, allowances: tuple[Allowance, ...]) -> tuple[bool, str]:
    reason = ""
    for allowance in allowances:
        gap = relieved(scan, nodes, 0, pair, allowance, 0.0, 0.0)
        if gap is not None:
            reason = allowance.reason
            if gap > ROUNDING:
                return True, reason if gap <= allowance.touching else ""
    if reason:
        return False, reason
    row = np.zeros(1, dtype=np.int64)
    place, enough = relative(scan.table, nodes, row, row + pair), scan.tally.floor() + ROUNDING + SPARE
    gap = gap_up_to(enough, *placed(scan, nodes, 0, pair))
    scan.tally.gaps_of(scan.table).add(pair, place.centre[0], place.axes[0], gap)
    if 0 < gap < enough:
        scan.tally.near(gap, *scan.names(pair), scan.element_of(pair))
    return gap > 0, ""
