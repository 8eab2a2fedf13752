"""Certification: a stretch of motion is cut until each pair's distance exceeds what the pair can move in a
piece."""

from __future__ import annotations

import numpy as np

from handfast.proof.allowances import Allowance, Allowed
from handfast.proof.bodies import CellBodies
from handfast.proof.bounds import lower_bounds, may_meet, relative_travel
from handfast.proof.exact import ROUNDING, apart_by
from handfast.proof.pieces_table import Index, PieceTable
from handfast.proof.scan import Scan, gap_between, placed, poses_in, relieved
from handfast.proof.slide import engaged, slides_clear
from handfast.proof.stl import Array
from handfast.proof.stretch import Nodes, Stretch, look, movers, rigid_groups
from handfast.proof.tally import Meeting, Tally
from handfast.proof.tolerances import FINE_RESOLUTION, RESOLUTION, SKIN

CHUNK = 256
"""Instants looked at in one go: bounds the memory."""


WORTH_MEASURING = 2e-3
"""Pairs of meshes are only asked "closer than?" until the motion bound is below this [m]."""


def certify(
    cell: CellBodies, table: PieceTable, stretch: Stretch, allowed: Allowed, element: int, tally: Tally
) -> None:
    """Certify one stretch and add to the tally what is found. element: to name where no hand moves."""
    arm_of, joint_of = movers(cell, table, stretch)
    scan = Scan(cell, table, stretch, allowed, element, tally, arm_of, joint_of)
    groups = rigid_groups(cell, table, stretch)
    together = groups[table.first] == groups[table.second]
    _rigid(scan, np.flatnonzero(together))
    moving = np.flatnonzero(~together)
    if len(moving):
        _moving(scan, groups, moving)


def _rigid(scan: Scan, pairs: Index) -> None:
    """Pairs that keep their relative pose: once is enough, and the answer is remembered."""
    if not len(pairs):
        return
    nodes = look(scan.cell, scan.table, scan.stretch, np.zeros(1), np.zeros(1))
    scan.tally.configurations += 1
    rows = np.zeros(len(pairs), dtype=np.int64)
    near = lower_bounds(scan.table, nodes, rows, pairs) <= max(scan.tally.floor(), RESOLUTION)
    for pair in pairs[near]:
        clear, reason = _remembered(scan, nodes, int(pair))
        a, b = scan.names(int(pair))
        if not clear:
            gap = gap_between(scan, nodes, 0, int(pair))
            scan.tally.met(Meeting(a, b, scan.element_of(int(pair)), scan.stretch.start, gap, reason))
        elif reason:
            scan.tally.touched(a, b, reason, scan.stretch.duration)


def _remembered(scan: Scan, nodes: Nodes, pair: int) -> tuple[bool, str]:
    """Whether a pair is clear here, and why it may touch if it does."""
    table = scan.table
    a, b = nodes.body[0, table.body[table.first[pair]]], nodes.body[0, table.body[table.second[pair]]]
    names = scan.names(pair)
    allowances = scan.allowed.get(frozenset(names), ())
    relative = np.round(np.linalg.solve(a, b), 9).tobytes()
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
    if not apart_by(*placed(scan, nodes, 0, pair), scan.tally.floor()):
        gap = gap_between(scan, nodes, 0, pair)
        if gap > 0:
            scan.tally.near(gap, *scan.names(pair), scan.element_of(pair))
        return gap > 0, ""
    return True, ""


def _moving(scan: Scan, groups: Index, pairs: Index) -> None:
    """Cut the stretch, level by level; each level keeps the pairs of each piece that are not yet shown
    apart."""
    cuts = scan.stretch.cuts()
    low, high = cuts[:-1], cuts[1:]
    chunks = [(low[i : i + CHUNK], high[i : i + CHUNK]) for i in range(0, len(low), CHUNK)]
    seen = {i * CHUNK: _look(scan, *chunk) for i, chunk in enumerate(chunks)}
    pairs = may_meet(scan.table, list(seen.values()), pairs, scan.tally.floor())
    rows = np.repeat(np.arange(len(low)), len(pairs))
    left = np.tile(pairs, len(low))
    while len(rows):
        open_rows: list[tuple[int, int]] = []
        for begin in range(0, len(low), CHUNK):
            part = (rows >= begin) & (rows < begin + CHUNK)
            if part.any():
                span = low[begin : begin + CHUNK], high[begin : begin + CHUNK]
                nodes = seen[begin] if begin in seen else _look(scan, *span)
                found = _level(scan, nodes, groups, *span, rows[part] - begin, left[part])
                open_rows += [(row + begin, pair) for row, pair in found]
        low, high, rows, left = _halved(low, high, open_rows)
        seen.clear()


def _halved(low: Array, high: Array, open_rows: list[tuple[int, int]]) -> tuple[Array, Array, Index, Index]:
    if not open_rows:
        return low[:0], high[:0], np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    rows, left = np.array(open_rows, dtype=np.int64).T
    kept, index = np.unique(rows, return_inverse=True)
    middle = (low[kept] + high[kept]) / 2
    count = len(kept)
    new_low, new_high = np.concatenate([low[kept], middle]), np.concatenate([middle, high[kept]])
    return new_low, new_high, np.concatenate([index, index + count]), np.concatenate([left, left])


def _look(scan: Scan, low: Array, high: Array) -> Nodes:
    scan.tally.configurations += len(low)
    return look(scan.cell, scan.table, scan.stretch, (low + high) / 2, (high - low) / 2)


def _level(
    scan: Scan, nodes: Nodes, groups: Index, low: Array, high: Array, rows: Index, pairs: Index
) -> list[tuple[int, int]]:
    """The (interval, pair) that need cutting again."""
    table = scan.table
    bound = relative_travel(scan, nodes, groups, rows, pairs)
    unsure = np.flatnonzero(lower_bounds(table, nodes, rows, pairs) <= bound + scan.tally.floor())
    again = []
    for k in unsure:
        row, pair = int(rows[k]), int(pairs[k])
        seconds = float(high[row] - low[row]) * scan.stretch.duration
        time = scan.stretch.start + float(low[row] + high[row]) / 2 * scan.stretch.duration
        if not _shown(scan, nodes, row, pair, float(bound[k]), seconds, time):
            again.append((row, pair))
    return again


def _shown(scan: Scan, nodes: Nodes, row: int, pair: int, bound: float, seconds: float, time: float) -> bool:
    """True if nothing more is to be found out: shown apart, or written down as a meeting."""
    names = scan.names(pair)
    tally = scan.tally
    turn = float(nodes.turn[row, scan.table.first[pair]] + nodes.turn[row, scan.table.second[pair]])
    doubtful, half_in, nested = "", False, False
    for allowance in scan.allowed.get(frozenset(names), ()):
        slid = slides_clear(scan, nodes, row, pair, allowance, turn)
        if slid is not None and slid[0] > slid[1] + ROUNDING:
            if slid[0] <= allowance.touching:
                tally.touched(*names, allowance.reason, seconds)
            return True
        gap = relieved(scan, nodes, row, pair, allowance, bound, turn)
        if gap is not None and gap > bound + ROUNDING:
            return _tallied(scan, pair, allowance, gap, bound, seconds)
        if gap is not None:
            doubtful = allowance.reason
        elif allowance.corridor.relief(poses_in(scan, nodes, row), 0.0, 0.0) is not None:
            doubtful, half_in = allowance.reason, True
            nested = nested or engaged(scan, nodes, row, pair, allowance)
    if not doubtful:
        return _open(scan, nodes, row, pair, bound, time)
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


def _tallied(scan: Scan, pair: int, allowance: Allowance, gap: float, bound: float, seconds: float) -> bool:
    """Count how long a pair that may touch is in contact; false if that takes another cut."""
    if gap > allowance.touching + bound:
        return True
    if bound > SKIN:
        return False
    if gap <= allowance.touching:
        scan.tally.touched(*scan.names(pair), allowance.reason, seconds)
    return True


def _open(scan: Scan, nodes: Nodes, row: int, pair: int, bound: float, time: float) -> bool:
    """The same for a pair that may not touch here."""
    tally = scan.tally
    if apart_by(*placed(scan, nodes, row, pair), bound + tally.floor()):
        return True
    if bound > WORTH_MEASURING and scan.of_triangles(pair):
        return False
    gap = gap_between(scan, nodes, row, pair)
    if gap > bound:
        tally.near(gap, *scan.names(pair), scan.element_of(pair))
        return gap > bound + tally.floor()
    if gap > 0 and bound > RESOLUTION / 2:
        return False
    tally.met(Meeting(*scan.names(pair), scan.element_of(pair), time, gap))
    return True
