"""A bit that goes into its socket: set back by how deep it is in, the tool is as clear all the way as it is
said to be in the middle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from tests.proof.chart_by_hand import Hand, first_fit, trapezoid

from handfast.proof.allowances import Allowance, lasting
from handfast.proof.bit_corridor import BitCorridor
from handfast.proof.bodies import load_bodies
from handfast.proof.into_socket import goes_clear
from handfast.proof.joint_path import joint_path
from handfast.proof.pieces_table import piece_table
from handfast.proof.scan import Scan, gap_set_back, poses_in
from handfast.proof.standing import Carrier
from handfast.proof.stretch import Stretch, look, movers
from handfast.proof.tally import Tally
from handfast.spatial import se3

DOWN = se3.rotation(np.array([1.0, 0.0, 0.0]), np.pi)


@dataclass(frozen=True)
class Driven:
    """A motion of the tool along the axis of a socket; pairs: of the tool's pieces and the screw."""

    scan: Scan
    allowance: Allowance
    pairs: list[int]


def driven(begin: float, end: float, aside: float = 0.0) -> Driven:
    """From one depth of the bit to another, and so far aside by then [m]."""
    project = first_fit()
    cell = load_bodies(project)
    table = piece_table(cell)
    allowance = next(a for a in lasting(project) if a.reason == "bit")
    line = allowance.corridor
    assert isinstance(line, BitCorridor)
    socket = se3.translation(0.10, 0.45, 0.10) @ DOWN
    hand = Hand(project, "right")
    lift = se3.translation(0.0, 0.0, 0.15)
    T_grip_tool = se3.inverse(lift @ socket) @ socket @ se3.inverse(line.T_tool_bit)
    first, last = (
        hand.reach(lift @ se3.translation(x, 0.0, 0.0) @ socket @ se3.translation(0.0, 0.0, d), hand.q)
        for x, d in ((0.0, begin), (aside, end))
    )
    path = joint_path(trapezoid(first, last, "right", hand.speed, hand.acceleration))
    away = se3.translation(0.0, 0.0, 9.0)
    carriers = {body.name: Carrier("", away) for body in cell.bodies if body.kind == "item"}
    carriers[line.tool] = Carrier("right", cell.T_joint_grip["right"] @ T_grip_tool)
    carriers[line.part] = Carrier("", socket @ se3.inverse(line.T_part_socket))
    still = {arm.name: np.array(arm.home) for arm in project.cell.arms}
    jaws = dict.fromkeys(cell.arms, (0.05, 0.05))
    stretch = Stretch(0.0, float(path.t[-1]), {"right": (0.0, path)}, still, jaws, carriers, {})
    scan = Scan(cell, table, stretch, {}, 0, Tally(), *movers(cell, table, stretch))
    pairs = [k for k in range(len(table.first)) if set(scan.names(k)) == {line.tool, line.part}]
    return Driven(scan, allowance, pairs)


@pytest.mark.parametrize("aside", [0.0, 20e-6])
def test_the_tool_is_as_clear_all_the_way_as_it_says(aside: float) -> None:
    there = driven(0.3e-3, 1.7e-3, aside)
    scan, cuts = there.scan, np.linspace(0.0, 1.0, 5)
    middle, half = (cuts[1:] + cuts[:-1]) / 2, np.diff(cuts) / 2
    nodes = look(scan.cell, scan.table, scan.stretch, middle, half)
    judged = 0
    for row in range(len(middle)):
        within = np.linspace(middle[row] - half[row], middle[row] + half[row], 9)
        instants = look(scan.cell, scan.table, scan.stretch, within, np.zeros(9))
        for pair in there.pairs:
            turn = float(nodes.turn[row, scan.table.first[pair]] + nodes.turn[row, scan.table.second[pair]])
            found = goes_clear(scan, nodes, row, pair, there.allowance, turn)
            assert found is not None
            gaps = []
            for k in range(9):
                step = there.allowance.corridor.relief(poses_in(scan, instants, k), 0.0, 0.0)
                assert step is not None
                gaps.append(gap_set_back(scan, instants, k, pair, there.allowance, found[1], step))
            assert min(gaps) >= found[0] - found[1] - 1e-6
            assert max(gaps) <= found[0] + found[1] + 1e-6
            judged += found[0] > found[1]
    assert judged >= 4
    assert nodes.travel.max() > 0.1e-3  # further than an interval may go that is judged by its travel


@pytest.mark.parametrize(
    ("begin", "end", "aside"), [(-1.0e-3, 0.3e-3, 0.0), (0.3e-3, 2.5e-3, 0.0), (0.3e-3, 1.0e-3, 0.2e-3)]
)
def test_where_the_bit_is_not_in_its_socket_all_the_way_nothing_is_said(
    begin: float, end: float, aside: float
) -> None:
    there = driven(begin, end, aside)
    nodes = look(there.scan.cell, there.scan.table, there.scan.stretch, np.array([0.5]), np.array([0.5]))
    for pair in there.pairs:
        turn = float(nodes.turn[0].max())
        assert goes_clear(there.scan, nodes, 0, pair, there.allowance, turn) is None
