"""Certification: a stretch of motion is cut until each pair's distance exceeds what the pair can move in a
piece."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from handfast.proof.allowances import Allowance, Allowed
from handfast.proof.bodies import CellBodies
from handfast.proof.exact import ROUNDING, apart_by, distance, gap_up_to
from handfast.proof.pieces_table import Index, PieceTable
from handfast.proof.stl import Array
from handfast.proof.stretch import Nodes, Stretch, look, movers, rigid_groups
from handfast.proof.tolerances import CLEARANCE_CAP, CLEARANCE_SHARE, FINE_RESOLUTION, RESOLUTION, SKIN

CHUNK = 256
"""Instants looked at in one go: bounds the memory."""
WORTH_MEASURING = 2e-3
"""Pairs of meshes are only asked "closer than?" until the motion bound is below this [m]."""


@dataclass(frozen=True)
class Meeting:
    """Two bodies that are not shown apart: in which element, when [s], how far apart [m] (negative: into each
    other)."""

    a: str
    b: str
    element: int
    time: float
    distance: float
    reason: str = ""


@dataclass
class Tally:
    """What a whole chart comes to. meetings: the worst of each pair and element; touching: (a, b, reason) ->
    [s]."""

    smallest: float = float("inf")
    closest: tuple[str, str] = ("", "")
    closest_element: int = 0
    configurations: int = 0
    meetings: dict[tuple[str, str, int], Meeting] = field(default_factory=dict)
    touching: dict[tuple[str, str, str], float] = field(default_factory=dict)
    known: dict[tuple[object, ...], tuple[bool, str]] = field(default_factory=dict)

    def floor(self) -> float:
        """Clearance that has to be shown [m], so that the smallest clearance stated is one."""
        return max(CLEARANCE_SHARE * min(self.smallest, CLEARANCE_CAP) - RESOLUTION, 0.0)

    def near(self, gap: float, a: str, b: str, element: int) -> None:
        """A pair that may not touch was found this close."""
        if gap < self.smallest:
            self.smallest, self.closest, self.closest_element = gap, (a, b), element

    def met(self, meeting: Meeting) -> None:
        """A pair that is not shown apart."""
        key = (meeting.a, meeting.b, meeting.element)
        if key not in self.meetings or meeting.distance < self.meetings[key].distance:
            self.meetings[key] = meeting

    def touched(self, a: str, b: str, reason: str, seconds: float) -> None:
        """An allowed pair was in contact."""
        key = (a, b, reason)
        self.touching[key] = self.touching.get(key, 0.0) + seconds


@dataclass(frozen=True)
class Scan:
    """One stretch being certified."""

    cell: CellBodies
    table: PieceTable
    stretch: Stretch
    allowed: Allowed
    element: int
    tally: Tally
    arm_of: tuple[str, ...]
    joint_of: Index

    def names(self, pair: int) -> tuple[str, str]:
        """The bodies of a pair."""
        table = self.table
        return (
            self.cell.bodies[table.body[table.first[pair]]].name,
            self.cell.bodies[table.body[table.second[pair]]].name,
        )

    def of_triangles(self, pair: int) -> bool:
        """True if measuring a pair is slow: one of its pieces is a mesh with hollows."""
        pieces = (self.table.pieces[self.table.first[pair]], self.table.pieces[self.table.second[pair]])
        return any(piece.hollow for piece in pieces)

    def element_of(self, pair: int) -> int:
        """The element that moves a pair."""
        for piece in (self.table.first[pair], self.table.second[pair]):
            number = self.stretch.elements.get(self.arm_of[piece])
            if number is not None:
                return number
        return self.element


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
    nodes = look(scan.cell, scan.table, scan.stretch, np.zeros(1), np.zeros(1))
    scan.tally.configurations += 1
    rows = np.zeros(len(pairs), dtype=np.int64)
    near = _lower_bounds(scan.table, nodes, rows, pairs) <= max(scan.tally.floor(), RESOLUTION)
    for pair in pairs[near]:
        clear, reason = _remembered(scan, nodes, int(pair))
        a, b = scan.names(int(pair))
        if not clear:
            gap = _gap(scan, nodes, 0, int(pair))
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
        gap = _relieved(scan, nodes, 0, pair, allowance, 0.0, 0.0)
        if gap is not None:
            reason = allowance.reason
            if gap > ROUNDING:
                return True, reason if gap <= allowance.touching else ""
    if reason:
        return False, reason
    if not apart_by(*_placed(scan, nodes, 0, pair), scan.tally.floor()):
        gap = _gap(scan, nodes, 0, pair)
        if gap > 0:
            scan.tally.near(gap, *scan.names(pair), scan.element_of(pair))
        return gap > 0, ""
    return True, ""


def _moving(scan: Scan, groups: Index, pairs: Index) -> None:
    """Cut the stretch, level by level; each level keeps the pairs of each piece that are not yet shown
    apart."""
    cuts = scan.stretch.cuts()
    low, high = cuts[:-1], cuts[1:]
    rows = np.repeat(np.arange(len(low)), len(pairs))
    left = np.tile(pairs, len(low))
    while len(rows):
        open_rows: list[tuple[int, int]] = []
        for begin in range(0, len(low), CHUNK):
            part = (rows >= begin) & (rows < begin + CHUNK)
            if part.any():
                found = _level(
                    scan,
                    groups,
                    low[begin : begin + CHUNK],
                    high[begin : begin + CHUNK],
                    rows[part] - begin,
                    left[part],
                )
                open_rows += [(row + begin, pair) for row, pair in found]
        low, high, rows, left = _halved(low, high, open_rows)


def _halved(low: Array, high: Array, open_rows: list[tuple[int, int]]) -> tuple[Array, Array, Index, Index]:
    if not open_rows:
        return low[:0], high[:0], np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    rows, left = np.array(open_rows, dtype=np.int64).T
    kept, index = np.unique(rows, return_inverse=True)
    middle = (low[kept] + high[kept]) / 2
    count = len(kept)
    new_low, new_high = np.concatenate([low[kept], middle]), np.concatenate([middle, high[kept]])
    return new_low, new_high, np.concatenate([index, index + count]), np.concatenate([left, left])


def _level(
    scan: Scan, groups: Index, low: Array, high: Array, rows: Index, pairs: Index
) -> list[tuple[int, int]]:
    """The (interval, pair) that need cutting again."""
    table = scan.table
    nodes = look(scan.cell, table, scan.stretch, (low + high) / 2, (high - low) / 2)
    scan.tally.configurations += len(low)
    bound = _relative_travel(scan, nodes, groups, rows, pairs)
    unsure = np.flatnonzero(_lower_bounds(table, nodes, rows, pairs) <= bound + scan.tally.floor())
    again = []
    for k in unsure:
        row, pair = int(rows[k]), int(pairs[k])
        seconds = float(high[row] - low[row]) * scan.stretch.duration
        time = scan.stretch.start + float(low[row] + high[row]) / 2 * scan.stretch.duration
        if not _shown(scan, nodes, row, pair, float(bound[k]), seconds, time):
            again.append((row, pair))
    return again


def _relative_travel(scan: Scan, nodes: Nodes, groups: Index, rows: Index, pairs: Index) -> Array:
    """How far two pieces move at most relative to each other, one number a row [m]."""
    a, b = scan.table.first[pairs], scan.table.second[pairs]
    apart = nodes.travel[rows, a] + nodes.travel[rows, b]
    numbers = {arm: i for i, arm in enumerate(("", *scan.cell.arms))}
    arms = np.array([numbers[arm] for arm in scan.arm_of])
    joint_a, joint_b = scan.joint_of[a], scan.joint_of[b]
    same = (
        (arms[a] == arms[b]) & (nodes.travel[rows, a] + nodes.travel[rows, b] > 0) & (joint_a * joint_b > 0)
    )
    outer, inner = np.where(joint_a >= joint_b, a, b), np.minimum(joint_a, joint_b)
    chain = nodes.tail[rows, outer, inner]
    return np.asarray(np.where(same, chain, apart) + nodes.stroke[rows, a] + nodes.stroke[rows, b])


def _lower_bounds(table: PieceTable, nodes: Nodes, rows: Index, pairs: Index) -> Array:
    """A distance each pair has at least: between balls, and from each ball to the other's box."""
    a, b = table.first[pairs], table.second[pairs]
    between = nodes.centre[rows, b] - nodes.centre[rows, a]
    balls = np.linalg.norm(between, axis=-1) - table.radius[a] - table.radius[b]
    to_a = _to_box(nodes.axes[rows, a], table.half[a], between) - table.radius[b]
    to_b = _to_box(nodes.axes[rows, b], table.half[b], between) - table.radius[a]
    return np.asarray(np.maximum(balls, np.maximum(to_a, to_b)))


def _to_box(axes: Array, half: Array, between: Array) -> Array:
    inside = np.abs(np.einsum("kab,ka->kb", axes, between)) - half
    return np.asarray(np.linalg.norm(np.maximum(inside, 0.0), axis=-1))


def _shown(scan: Scan, nodes: Nodes, row: int, pair: int, bound: float, seconds: float, time: float) -> bool:
    """True if nothing more is to be found out: shown apart, or written down as a meeting."""
    names = scan.names(pair)
    tally = scan.tally
    turn = float(nodes.turn[row, scan.table.first[pair]] + nodes.turn[row, scan.table.second[pair]])
    doubtful, half_in = "", False
    for allowance in scan.allowed.get(frozenset(names), ()):
        gap = _relieved(scan, nodes, row, pair, allowance, bound, turn)
        if gap is not None and gap > bound + ROUNDING:
            return _tallied(scan, pair, allowance, gap, bound, seconds)
        if gap is not None:
            doubtful = allowance.reason
        elif _relieved(scan, nodes, row, pair, allowance, 0.0, 0.0) is not None:
            doubtful, half_in = allowance.reason, True
    if not doubtful:
        return _open(scan, nodes, row, pair, bound, time)
    # Where a corridor begins or ends a pair is half in it, however finely it is cut: there plain distance
    # decides.
    if half_in and apart_by(*_placed(scan, nodes, row, pair), bound):
        return True
    if bound > FINE_RESOLUTION / 2:
        return False
    gap = _gap(scan, nodes, row, pair)
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
    if apart_by(*_placed(scan, nodes, row, pair), bound + tally.floor()):
        return True
    if bound > WORTH_MEASURING and scan.of_triangles(pair):
        return False
    gap = _gap(scan, nodes, row, pair)
    if gap > bound:
        tally.near(gap, *scan.names(pair), scan.element_of(pair))
        return gap > bound + tally.floor()
    if gap > 0 and bound > RESOLUTION / 2:
        return False
    tally.met(Meeting(*scan.names(pair), scan.element_of(pair), time, gap))
    return True


def _relieved(
    scan: Scan, nodes: Nodes, row: int, pair: int, allowance: Allowance, bound: float, turn: float
) -> float | None:
    """None out of the corridor; else the gap of the pair drawn in and set back [m], as far as it matters."""
    step = allowance.corridor.relief(_poses(scan, nodes, row), bound, turn)
    if step is None:
        return None
    table = scan.table
    first, second = int(table.first[pair]), int(table.second[pair])
    if scan.cell.bodies[table.body[first]].name != allowance.a:
        first, second = second, first
    pose_a, pose_b = (_piece_pose(scan, nodes, row, piece) for piece in (first, second))
    pose_a = pose_a.copy()
    pose_a[:3, 3] += step
    enough = allowance.touching + bound + 2 * ROUNDING
    drawn = table.pieces[first].drawn(allowance.skin)
    return gap_up_to(enough, drawn, pose_a, table.pieces[second].geometry, pose_b)


def _poses(scan: Scan, nodes: Nodes, row: int) -> Callable[[str], Array]:
    return lambda name: np.asarray(nodes.body[row, scan.cell.index[name]])


def _piece_pose(scan: Scan, nodes: Nodes, row: int, piece: int) -> Array:
    return np.asarray(nodes.body[row, scan.table.body[piece]] @ scan.table.pieces[piece].T_body_shape)


def _placed(scan: Scan, nodes: Nodes, row: int, pair: int) -> tuple[object, Array, object, Array]:
    first, second = int(scan.table.first[pair]), int(scan.table.second[pair])
    pieces = scan.table.pieces
    return (
        pieces[first].geometry,
        _piece_pose(scan, nodes, row, first),
        pieces[second].geometry,
        _piece_pose(scan, nodes, row, second),
    )


def _gap(scan: Scan, nodes: Nodes, row: int, pair: int) -> float:
    return distance(*_placed(scan, nodes, row, pair))
