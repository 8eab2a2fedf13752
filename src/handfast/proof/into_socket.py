"""A bit that goes into its socket or out of it: what is taken back moves with the tool along the axis, so
only what is beside the axis counts as motion."""

from __future__ import annotations

from handfast.proof.allowances import Allowance
from handfast.proof.bit_corridor import BitCorridor
from handfast.proof.scan import Scan, gap_set_back, poses_in
from handfast.proof.slide import slide_of
from handfast.proof.stretch import Nodes


def goes_clear(
    scan: Scan, nodes: Nodes, row: int, pair: int, allowance: Allowance, turn: float
) -> tuple[float, float] | None:
    """Gap [m] of a tool, set back, and its screw in the middle of an interval, as far as it matters, and how
    far the tool, set back, moves in it at most [m]; None where that cannot be said, as before the bit is in
    the socket. The pair is clear if the gap is larger."""
    line = allowance.corridor
    if not isinstance(line, BitCorridor):
        return None
    slide = slide_of(scan, nodes, row, pair, line)
    if slide is None or scan.cell.bodies[scan.table.body[slide.piece]].name != line.tool:
        return None
    poses, centre = poses_in(scan, nodes, row), nodes.centre[row, slide.piece]
    beside = slide.beside + line.aslant(poses, centre, slide.either, turn)
    step = line.relief(poses, beside, turn, slide.either + beside)
    if step is None:
        return None
    return gap_set_back(scan, nodes, row, pair, allowance, beside, step), beside
