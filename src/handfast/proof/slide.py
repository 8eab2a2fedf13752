"""Parts that slide along each other: nested surfaces stay a skin apart all the way, so the way along the line
is certified in one go by what a surface passes over, and only what is beside the line counts as motion."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.proof.allowances import Allowance
from handfast.proof.corridor import Line, PlaceCorridor
from handfast.proof.exact import ROUNDING, gap_up_to
from handfast.proof.mate_corridor import MateCorridor
from handfast.proof.scan import Scan, piece_pose, poses_in
from handfast.proof.stl import Array
from handfast.proof.stretch import Nodes
from handfast.proof.tolerances import SLIDES


@dataclass(frozen=True)
class Slide:
    """How a pair moves relative to each other in an interval.

    along (3,): direction of the line in the world; half: how far it moves along it at most, either way;
    beside: how far the points of the pair move beside it at most [m].
    """

    along: Array
    half: float
    beside: float


def slide_of(scan: Scan, nodes: Nodes, row: int, pair: int, line: Line) -> Slide | None:
    """The motion of a pair along a line; None where both bodies of it move, or jaws."""
    first, second = int(scan.table.first[pair]), int(scan.table.second[pair])
    moves = [piece for piece in (first, second) if nodes.travel[row, piece] > 0.0]
    if len(moves) != 1 or nodes.stroke[row, first] + nodes.stroke[row, second] > 0.0:
        return None
    steps = nodes.shift[row, :, moves[0]]
    along = line.axis(poses_in(scan, nodes, row))
    ahead = steps @ along
    beside = float(np.linalg.norm(steps - ahead[:, None] * along, axis=1).max())
    return Slide(along, float(np.abs(ahead).max()), beside + float(nodes.rest[row, moves[0]]))


def slides_clear(
    scan: Scan, nodes: Nodes, row: int, pair: int, allowance: Allowance, turn: float
) -> tuple[float, float] | None:
    """Gap [m] of a pair, drawn in, over all of its way along the line of its mate or place in an interval, as
    far as it matters, and how far it moves beside the line [m]; None where that cannot be said. The pair is
    clear if the gap is larger."""
    line, table = allowance.corridor, scan.table
    if not isinstance(line, (MateCorridor, PlaceCorridor)):
        return None
    slide = slide_of(scan, nodes, row, pair, line)
    half = None if slide is None else next((h for h in SLIDES if h / 4 <= slide.half <= h), None)
    if slide is None or half is None:
        return None
    # Rounding of the swept direction turns it by less than this.
    beside = slide.beside + 1e-3 * half
    if line.relief(poses_in(scan, nodes, row), beside, turn, slide.half + beside) is None:
        return None
    drawn, other = int(table.first[pair]), int(table.second[pair])
    if scan.cell.bodies[table.body[drawn]].name != allowance.a:
        drawn, other = other, drawn
    gap = _gap(scan, nodes, row, (drawn, other), allowance, (slide.along, half), beside)
    return None if gap is None else (gap, beside)


def engaged(scan: Scan, nodes: Nodes, row: int, pair: int, allowance: Allowance) -> bool:
    """True where the features of a mate are in each other: there plain distance says nothing, and cutting on
    until the pair can be shown to slide is quicker than asking for it."""
    pieces = (scan.table.pieces[scan.table.first[pair]], scan.table.pieces[scan.table.second[pair]])
    if any(piece.vertices is None for piece in pieces):
        return False
    line = allowance.corridor
    return isinstance(line, MateCorridor) and line.is_engaged(poses_in(scan, nodes, row))


def _gap(
    scan: Scan,
    nodes: Nodes,
    row: int,
    pieces: tuple[int, int],
    allowance: Allowance,
    way: tuple[Array, float],
    beside: float,
) -> float | None:
    """Gap between the smaller piece swept along the way and the other one, the first of them drawn in."""
    shapes = [scan.table.pieces[piece] for piece in pieces]
    poses = [piece_pose(scan, nodes, row, piece) for piece in pieces]
    if any(shape.vertices is None for shape in shapes):
        return None
    small = 0 if shapes[0].radius <= shapes[1].radius else 1
    along, half = way
    centre = nodes.centre[row, pieces[small]]
    # Were the other one wholly inside what is passed over, its surface would be clear of the outside of that.
    inside = poses[1 - small][:3, :3].T @ (centre - poses[1 - small][:3, 3])
    if not shapes[1 - small].reaches_past(inside, shapes[small].radius + half + 3 * allowance.skin + beside):
        return None
    x, y, z = (float(v) for v in np.round(poses[small][:3, :3].T @ along, 3))
    length = float(np.linalg.norm((x, y, z)))
    direction = (x / length, y / length, z / length)
    depths = [allowance.skin, 0.0]
    geometries = [shape.drawn(allowance.skin) if i == 0 else shape.geometry for i, shape in enumerate(shapes)]
    geometries[small] = shapes[small].slid_along(depths[small], direction, half)
    enough = allowance.touching + beside + 2 * ROUNDING
    return gap_up_to(enough, geometries[0], poses[0], geometries[1], poses[1])
