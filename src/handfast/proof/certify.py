"""Certification: a stretch of motion is cut until each pair's distance exceeds what the pair can move in a
piece."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.proof.allowances import Allowance, Allowed
from handfast.proof.bodies import CellBodies
from handfast.proof.bounds import may_meet, near, relative_travel
from handfast.proof.corridor import Always, PlaceCorridor
from handfast.proof.exact import ROUNDING, apart_by
from handfast.proof.into_socket import goes_clear
from handfast.proof.mate_corridor import MateCorridor
from handfast.proof.open_pairs import CLOSE, Again, open_pairs
from handfast.proof.pieces_table import Index, PieceTable
from handfast.proof.rigid import rigid
from handfast.proof.scan import Measured, Scan, gap_between, in_contact, placed, poses_in, relieved
from handfast.proof.slide import engaged, slides_clear
from handfast.proof.stl import Array
from handfast.proof.stretch import Nodes, Stretch, first_cuts, look, movers, rigid_groups
from handfast.proof.tally import Meeting, Tally
from handfast.proof.tolerances import FINE_RESOLUTION, SKIN

CHUNK = 256
"""Instants looked at in one go: bounds the memory."""


UNMOVED = (MateCorridor, PlaceCorridor, Always)
"""Corridors that set nothing back: in them a gap changes by no more than the pair moves."""


def certify(
    cell: CellBodies, table: PieceTable, stretch: Stretch, allowed: Allowed, element: int, tally: Tally
) -> None:
    """Certify one stretch and add to the tally what is found. element: to name where no hand moves."""
    if not len(table.first):
        return
    arm_of, joint_of = movers(cell, table, stretch)
    scan = Scan(cell, table, stretch, allowed, element, tally, arm_of, joint_of)
    groups = rigid_groups(cell, table, stretch, (arm_of, joint_of))
    together = groups[table.first] == groups[table.second]
    moving = np.flatnonzero(~together)
    cuts = first_cuts(cell, stretch) if len(moving) else np.zeros(2)
    low, high = cuts[:-1], cuts[1:]
    chunks = [(low[i : i + CHUNK], high[i : i + CHUNK]) for i in range(0, len(low), CHUNK)]
    seen = {i * CHUNK: _look(scan, *chunk) for i, chunk in enumerate(chunks)}
    rigid(scan, seen[0], np.flatnonzero(together))
    if len(moving):
        _moving(scan, groups, moving, low, high, seen)


def _moving(scan: Scan, groups: Index, pairs: Index, low: Array, high: Array, seen: dict[int, Nodes]) -> None:
    """Cut the stretch, level by level; each level keeps the pairs of each piece that are not yet shown apart.
    low, high: where it is cut first; seen: what is there, by the first interval of each chunk."""
    pairs = may_meet(scan.table, list(seen.values()), pairs, scan.tally.floor())
    rows = np.repeat(np.arange(len(low)), len(pairs))
    left = np.tile(pairs, len(low))
    while len(rows):
        again: list[Again] = []
        for begin in range(0, len(low), CHUNK):
            part = (rows >= begin) & (rows < begin + CHUNK)
            if part.any():
                span = low[begin : begin + CHUNK], high[begin : begin + CHUNK]
                nodes = seen[begin] if begin in seen else _look(scan, *span, left[part])
                found = _level(scan, nodes, groups, *span, rows[part] - begin, left[part])
                again += [(row + begin, pair, parts) for row, pair, parts in found]
        low, high, rows, left = _cut(low, high, again)
        seen.clear()


def _cut(low: Array, high: Array, again: list[Again]) -> tuple[Array, Array, Index, Index]:
    """The intervals that are left, each in as many parts as is asked for at most of its pairs; the (interval,
    pair) of those."""
    if not again:
        return low[:0], high[:0], np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    rows, left, asked = np.array(again, dtype=np.int64).T
    kept, index = np.unique(rows, return_inverse=True)
    parts = np.zeros(len(kept), dtype=np.int64)
    np.maximum.at(parts, index, asked)
    first = np.cumsum(parts) - parts
    of = np.repeat(np.arange(len(kept)), parts)
    place = np.arange(len(of)) - first[of]
    begin, length = low[kept][of], (high[kept] - low[kept])[of] / parts[of]
    ends = np.where(place + 1 == parts[of], high[kept][of], begin + length * (place + 1))
    each = parts[index]
    case = np.repeat(np.arange(len(rows)), each)
    new = first[index][case] + np.arange(len(case)) - np.repeat(np.cumsum(each) - each, each)
    return begin + length * place, ends, new, left[case]


def _look(scan: Scan, low: Array, high: Array, pairs: Index | None = None) -> Nodes:
    scan.tally.configurations += len(low)
    asked = None if pairs is None else np.unique([scan.table.first[pairs], scan.table.second[pairs]])
    moved = scan.arm_of, scan.joint_of
    return look(scan.cell, scan.table, scan.stretch, (low + high) / 2, (high - low) / 2, asked, moved)


@dataclass(frozen=True)
class Interval:
    """A pair in one interval of the stretch. low, high: of it, as shares of the stretch; bound: how far the
    pair moves at most from the middle [m]; after: rows of the intervals that follow without a break."""

    nodes: Nodes
    row: int
    pair: int
    bound: float
    low: float
    high: float
    after: Index

    def turn(self, table: PieceTable) -> float:
        """How far the pair turns at most from the middle [rad]."""
        turn = self.nodes.turn[self.row]
        return float(turn[table.first[self.pair]] + turn[table.second[self.pair]])


def _level(
    scan: Scan, nodes: Nodes, groups: Index, low: Array, high: Array, rows: Index, pairs: Index
) -> list[Again]:
    """The (interval, pair) that need cutting again."""
    bound = relative_travel(scan, nodes, groups, rows, pairs)
    unsure = near(scan.table, nodes, rows, pairs, bound + scan.tally.floor())
    unsure = unsure[np.lexsort((low[rows[unsure]], pairs[unsure]))]  # each pair from its start to its end
    rows, pairs, bound = rows[unsure], pairs[unsure], bound[unsure]
    close = (bound <= CLOSE) & scan.may_touch[pairs]
    apart = ~close
    breaks = np.flatnonzero((np.diff(pairs) != 0) | (high[rows[:-1]] != low[rows[1:]]) | np.diff(close)) + 1
    again: list[Again] = []
    for run in np.split(np.arange(len(rows)), breaks):
        for k in run if len(run) and close[run[0]] else ():
            row, pair = int(rows[k]), int(pairs[k])
            span = float(low[row]), float(high[row])
            at = Interval(nodes, row, pair, float(bound[k]), *span, rows[k + 1 : run[-1] + 1])
            shown = _shown(scan, at)
            apart[k] = shown is None
            if shown is False:
                again.append((row, pair, 2))
    return again + open_pairs(scan, nodes, (low, high), rows[apart], pairs[apart], bound[apart])


def _shown(scan: Scan, at: Interval) -> bool | None:
    """True if nothing more is to be found out of a pair that may touch: shown apart, or written down as a
    meeting; None where it may not touch."""
    nodes, row, pair, bound = at.nodes, at.row, at.pair, at.bound
    names = scan.names(pair)
    tally = scan.tally
    seconds = (at.high - at.low) * scan.stretch.duration
    time = scan.stretch.start + (at.low + at.high) / 2 * scan.stretch.duration
    turn = at.turn(scan.table)
    doubtful, half_in, nested = "", False, False
    for which, allowance in enumerate(scan.allowances(pair)):
        key = (pair, which)
        bit = goes_clear(scan, nodes, row, pair, allowance, turn)
        slid = bit or slides_clear(scan, nodes, row, key, allowance, turn, at.after)
        if slid is not None and slid[0] > slid[1] + ROUNDING:
            # All of a way has the gap of its narrowest place: whether they touch here is asked here.
            if slid[0] <= allowance.touching and (bit or in_contact(scan, nodes, row, pair, allowance)):
                tally.touched(*names, allowance.reason, seconds)
            return True
        gap = _relieved(scan, at, key, allowance, turn)
        if gap is not None and gap > bound + ROUNDING:
            return _tallied(scan, pair, allowance, gap, bound, seconds)
        if gap is not None:
            doubtful = allowance.reason
        elif allowance.corridor.relief(poses_in(scan, nodes, row), 0.0, 0.0) is not None:
            doubtful, half_in = allowance.reason, True
            nested = nested or engaged(scan, nodes, row, pair, allowance)
    if not doubtful:
        return None
    # Where a corridor begins or ends a pair is half in it, however finely it is cut: there plain distance
    # decides.
    if (
        half_in
        and not (nested and bound > FINE_RESOLUTION / 2)
        and apart_by(*placed(scan, nodes, row, pair), bound)
    ):
        return True
    if bound > FINE_RESOLUTION / 2:
        return False
    gap = gap_between(scan, nodes, row, pair)
    tally.met(Meeting(*names, scan.element_of(pair), time, gap, doubtful))
    return True


def _relieved(
    scan: Scan, at: Interval, key: tuple[int, int], allowance: Allowance, turn: float
) -> float | None:
    """As `relieved`, or what is left of the gap in the interval before, where that is enough to go by: a gap
    that said contact says so until it is used up."""
    left = scan.gap_left(key, at.low, at.bound)
    contact = left > at.bound + ROUNDING and scan.measured[key].gap <= allowance.touching
    if (contact or left > allowance.touching + at.bound) and isinstance(allowance.corridor, UNMOVED):
        step = allowance.corridor.relief(poses_in(scan, at.nodes, at.row), at.bound, turn)
        gap = None if step is None else left
    else:
        gap = relieved(scan, at.nodes, at.row, at.pair, allowance, at.bound, turn)
    if gap is not None:
        scan.measured[key] = Measured(gap, at.bound, at.high)
    return gap


def _tallied(scan: Scan, pair: int, allowance: Allowance, gap: float, bound: float, seconds: float) -> bool:
    """Count how long a pair that may touch is in contact; false if that takes another cut."""
    if gap > allowance.touching + bound:
        return True
    if bound > SKIN:
        return False
    if gap <= allowance.touching:
        scan.tally.touched(*scan.names(pair), allowance.reason, seconds)
    return True
