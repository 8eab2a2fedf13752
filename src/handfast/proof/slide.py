"""Parts that slide along each other: nested surfaces stay a skin apart all the way, so the way along the line
is certified in one go by what a surface passes over, and only what is beside the line counts as motion."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from handfast.proof.allowances import Allowance
from handfast.proof.corridor import Line, PlaceCorridor, angle_of
from handfast.proof.exact import ROUNDING
from handfast.proof.lengths import lengths
from handfast.proof.mate_corridor import MateCorridor
from handfast.proof.passed_over import Part, gap_on_way
from handfast.proof.pieces_table import Index
from handfast.proof.scan import Scan, piece_pose, poses_in
from handfast.proof.stl import Array
from handfast.proof.stretch import Nodes
from handfast.proof.tolerances import CORRIDOR, FINE_RESOLUTION, SLIDES, WAY


@dataclass(frozen=True)
class Slide:
    """How a pair moves relative to each other in an interval.

    piece: the one that moves; along (3,): direction of the line in the world; middle, half: from where it is,
    it moves along it by no less than middle - half, no more than middle + half; beside: how far the points of
    the pair move beside it at most [m].
    """

    piece: int
    along: Array
    middle: float
    half: float
    beside: float

    @property
    def either(self) -> float:
        """How far it moves along the line at most, either way [m]."""
        return abs(self.middle) + self.half


@dataclass(frozen=True)
class Swept:
    """What was found of all that a pair passes over, from `half` [m] before a place on a line to as much
    behind it.

    centre (3,), axes (3, 3): of the piece that moves, there; other (4, 4): where the other piece stood; along
    (3,): the line; gap [m]: of the pair over all of it, as far as it matters.
    """

    centre: Array
    axes: Array
    other: Array
    along: Array
    half: float
    gap: float


def slide_of(scan: Scan, nodes: Nodes, row: int, pair: int, line: Line) -> Slide | None:
    """The motion of a pair along a line; None where both bodies of it move, or jaws."""
    first, second = int(scan.table.first[pair]), int(scan.table.second[pair])
    moves = [piece for piece in (first, second) if nodes.travel[row, piece] > 0.0]
    if len(moves) != 1 or nodes.stroke[row, first] + nodes.stroke[row, second] > 0.0:
        return None
    steps = nodes.shift[row, :, moves[0]]
    along = line.axis(poses_in(scan, nodes, row))
    ahead = steps @ along
    beside = float(lengths(steps - ahead[:, None] * along).max())
    low, high = min(float(ahead.min()), 0.0), max(float(ahead.max()), 0.0)
    rest = float(nodes.rest[row, moves[0]])
    return Slide(moves[0], along, (low + high) / 2, (high - low) / 2, beside + rest)


def slides_clear(
    scan: Scan, nodes: Nodes, row: int, key: tuple[int, int], allowance: Allowance, turn: float, after: Index
) -> tuple[float, float] | None:
    """Gap [m] of a pair, drawn in, over all of its way along the line of its mate or place in an interval, as
    far as it matters, and how far it moves beside the line [m]; None where that cannot be said. The pair is
    clear if the gap is larger. key: the pair, and which of its allowances this is; after: rows of the
    intervals that follow without a break; as much of the line as they go on along it is passed over in one
    go, and remembered for them.
    """
    line, pair = allowance.corridor, key[0]
    if not isinstance(line, (MateCorridor, PlaceCorridor)) or not _have_faces(scan, pair):
        return None
    slide = slide_of(scan, nodes, row, pair, line)
    if slide is None:
        return None
    found, ways = None, None
    for place in range(3):
        swept = scan.swept.get((*key, place))
        gap = None if swept is None else _gap_on(scan, nodes, row, pair, slide, swept)
        if swept is None or gap is None:
            ways = _ways(scan, nodes, row, slide, line, after) if ways is None else ways
            way = ways[place]
            if way is None or not _on_the_line(scan, nodes, row, slide, line, _beside(slide, way[1]), turn):
                continue
            swept = _passed_over(scan, nodes, row, allowance, pair, slide, way[1], way[0])
            if swept is None:
                continue
            scan.swept[*key, place], gap = swept, swept.gap
        elif not _on_the_line(scan, nodes, row, slide, line, _beside(slide, swept.half), turn):
            continue
        found = gap, _beside(slide, swept.half)
        if found[0] > found[1] + ROUNDING:
            break
    return found


def _beside(slide: Slide, half: float) -> float:
    """How far a pair moves beside a line at most [m], with what the rounding of its direction adds on a way
    of so much either side: it turns by less than 1e-3."""
    return slide.beside + 1e-3 * half


def _on_the_line(
    scan: Scan, nodes: Nodes, row: int, slide: Slide, line: Line, beside: float, turn: float
) -> bool:
    """True if the corridor holds the pair all the way. Asked in the middle of the way, not of the time, where
    it is the body that goes home that moves."""
    poses = poses_in(scan, nodes, row)
    mover = scan.cell.bodies[scan.table.body[slide.piece]].name
    if mover != line.mover:
        return line.relief(poses, beside, turn, slide.either + beside) is not None

    def moved(name: str) -> Array:
        pose = poses(name)
        if name == mover:
            pose = pose.copy()
            pose[:3, 3] += slide.middle * slide.along
        return pose

    return line.relief(moved, beside, turn, slide.half + beside) is not None


def _have_faces(scan: Scan, pair: int) -> bool:
    """False for a ball."""
    pieces = (scan.table.pieces[scan.table.first[pair]], scan.table.pieces[scan.table.second[pair]])
    return all(len(piece.size) != 1 for piece in pieces)


Way = tuple[float, float]
"""The middle of a part of a line, from where a piece is [m], and its length either side [m]."""


def _ways(scan: Scan, nodes: Nodes, row: int, slide: Slide, line: Line, after: Index) -> list[Way | None]:
    """What may be passed over in one go: all of the way that the piece goes on along the line; the longest of
    SLIDES on that; where neither is clear, this interval and little more."""
    low, high = _extent(nodes, row, slide, after)
    half = math.ceil((high - low) / 2 / WAY) * WAY
    home = line.home(poses_in(scan, nodes, row))
    whole = (high - half if abs(home - high) < abs(home - low) else low + half, half)
    fitting = [h for h in SLIDES if slide.half <= h <= (high - low) / 2]
    on = high - slide.middle > slide.middle - low
    longest = (low + fitting[-1] if on else high - fitting[-1], fitting[-1]) if fitting else None
    alone = next(((slide.middle, h) for h in SLIDES if h / 4 <= slide.half <= h), None)
    return [whole, longest, alone]


def _extent(nodes: Nodes, row: int, slide: Slide, after: Index) -> tuple[float, float]:
    """From where to where on its line the piece gets straight on in this row and those that follow, from
    where it is [m]: a little more than that."""
    steps = nodes.centre[after, slide.piece] - nodes.centre[row, slide.piece]
    ahead = steps @ slide.along
    off = lengths(steps - ahead[:, None] * slide.along)
    on = (off < CORRIDOR) & (np.diff(np.abs(ahead), prepend=0.0) >= 0.0)
    count = int(np.argmin(on)) if not on.all() else len(on)
    low, high = slide.middle - slide.half, slide.middle + slide.half
    if count:
        last, far = after[count - 1], float(ahead[count - 1])
        own = nodes.shift[last, :, slide.piece] @ slide.along
        low, high = min(low, far + float(own.min())), max(high, far + float(own.max()))
    return low - 1e-9, high + 1e-9


def _gap_on(scan: Scan, nodes: Nodes, row: int, pair: int, slide: Slide, swept: Swept) -> float | None:
    """The gap that was found for a way, less how far the pair is off it; None where this interval is no part
    of it."""
    if float(slide.along @ swept.along) < 1.0 - 1e-12:
        return None
    first, second = int(scan.table.first[pair]), int(scan.table.second[pair])
    other = piece_pose(scan, nodes, row, second if slide.piece == first else first)
    step = nodes.centre[row, slide.piece] + slide.middle * slide.along - swept.centre
    ahead = float(step @ swept.along)
    if abs(ahead) + slide.half > swept.half or not np.array_equal(other, swept.other):
        return None
    turned = angle_of(swept.axes.T @ nodes.axes[row, slide.piece])
    off = float(np.linalg.norm(step - ahead * swept.along)) + turned * float(scan.table.radius[slide.piece])
    return swept.gap - off


def _passed_over(
    scan: Scan,
    nodes: Nodes,
    row: int,
    allowance: Allowance,
    pair: int,
    slide: Slide,
    half: float,
    shift: float,
) -> Swept | None:
    """Gap of a pair, drawn in, over a way of `half` [m] either side of a place `shift` [m] further on the
    line."""
    table = scan.table
    drawn, other = int(table.first[pair]), int(table.second[pair])
    if scan.cell.bodies[table.body[drawn]].name != allowance.a:
        drawn, other = other, drawn
    poses = [piece_pose(scan, nodes, row, piece) for piece in (drawn, other)]
    moving = 0 if slide.piece == drawn else 1
    stands, poses[moving] = poses[1 - moving], poses[moving].copy()
    poses[moving][:3, 3] += shift * slide.along
    parts = Part(table.pieces[drawn], allowance.skin, poses[0]), Part(table.pieces[other], 0.0, poses[1])
    enough = allowance.touching + _beside(slide, half) + FINE_RESOLUTION
    gap = gap_on_way(*parts, slide.along, half, enough)
    if gap is None:
        return None
    centre = nodes.centre[row, slide.piece] + shift * slide.along
    return Swept(centre, nodes.axes[row, slide.piece], stands, slide.along, half, gap)


def engaged(scan: Scan, nodes: Nodes, row: int, pair: int, allowance: Allowance) -> bool:
    """True where the features of a mate are in each other: there plain distance says nothing, and cutting on
    until the pair can be shown to slide is quicker than asking for it."""
    pieces = (scan.table.pieces[scan.table.first[pair]], scan.table.pieces[scan.table.second[pair]])
    if any(piece.vertices is None for piece in pieces):
        return False
    line = allowance.corridor
    return isinstance(line, MateCorridor) and line.is_engaged(poses_in(scan, nodes, row))
