"""A pair that passes by on a straight line is as far apart, all the way, as is said: held against distances
at instants that lie close together."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from tests.proof.test_coherence import nodes_of, table_of
from tests.proof.test_slides import part, random_pose

from handfast.proof.exact import distance
from handfast.proof.piece import primitive
from handfast.proof.pieces_table import PieceTable
from handfast.proof.stl import Array
from handfast.proof.straight import passed_by
from handfast.proof.stretch import Nodes
from handfast.spatial import se3

FINGER = (0.008, 0.007, 0.060)
STEPS, INSIDE = 20, 5


class Alone:
    """As much of a scan as is asked for."""

    def __init__(self, table: PieceTable) -> None:
        self.table = table


def way(
    table: PieceTable, begin: Array, along: Array, aside: Array, length: float, turn: float
) -> tuple[Nodes, Array]:
    """The second piece goes `length` [m] along a line, bent aside in the middle, in STEPS intervals, and
    turns; gaps (STEPS,): the least distance at instants of each interval [m]."""

    def at(share: float) -> Array:
        T = se3.translation(*(share * length * along + np.sin(np.pi * share) * aside)) @ begin
        return np.asarray(T @ se3.exp(np.array([0.0, 0.0, 0.0, 0.0, 0.0, turn * share])))

    middles = (np.arange(STEPS) + 0.5) / STEPS
    nodes = nodes_of(table, np.array([[np.eye(4), at(share)] for share in middles]))
    half = 0.5 / STEPS
    shift = np.zeros((STEPS, 2, 2, 3))
    rest = np.zeros((STEPS, 2))
    for row, share in enumerate(middles):
        centre = nodes.centre[row, 1]
        for control, end in enumerate((share - half, share + half)):
            shift[row, control, 1] = at(end)[:3, :3] @ table.centre[1] + at(end)[:3, 3] - centre
        rest[row, 1] = abs(turn) * half * table.radius[1] + np.linalg.norm(aside) * (np.pi * half) ** 2 / 2
    travel = np.linalg.norm(shift, axis=-1).max(axis=1) + rest
    moved = Nodes(
        nodes.body, nodes.centre, nodes.axes, travel, nodes.turn, shift, rest, nodes.tail, nodes.stroke
    )
    shapes, stands = (table.pieces[0].geometry, table.pieces[1].geometry), table.pieces[0].T_body_shape
    gaps = [
        min(
            max(distance(shapes[0], stands, shapes[1], at(s) @ table.pieces[1].T_body_shape), 0.0)
            for s in np.linspace(share - half, share + half, INSIDE)
        )
        for share in middles
    ]
    return moved, np.array(gaps)


@pytest.mark.parametrize("moved", ["finger", "lower_block"])
@pytest.mark.parametrize("bend", [0.0, 0.3e-3])
def test_what_is_shown_is_so(moved: str, bend: float) -> None:
    rng = np.random.default_rng(11)
    shown = doubtful = 0
    for _ in range(25):
        piece = primitive(FINGER, np.eye(4)) if moved == "finger" else part("lower_block")
        table = table_of(part("cover"), piece)
        along = rng.normal(size=3)
        along /= np.linalg.norm(along)
        begin = random_pose(rng, 0.06)
        aside = bend * np.cross(along, [0.0, 0.0, 1.0])
        nodes, gaps = way(table, begin, along, aside, 0.03, rng.choice([0.0, 2e-3]))
        at = STEPS // 2
        if gaps[at] == 0.0:
            continue
        spare = np.full(STEPS, gaps[at] * rng.uniform(0.2, 0.95))
        found = passed_by(_scan(table), nodes, 0, np.arange(STEPS), at, float(gaps[at]), spare)
        assert (gaps[found] >= spare[found] - 1e-7).all()
        shown += int(found.sum())
        doubtful += int((gaps < spare).sum())
    assert min(shown, doubtful) > 20


def _scan(table: PieceTable) -> Any:
    return Alone(table)


def test_a_finger_that_draws_back_along_a_face_is_shown_clear_all_the_way() -> None:
    table = table_of(primitive((0.1, 0.1, 0.02), np.eye(4)), primitive(FINGER, np.eye(4)))
    begin = se3.translation(-0.03, 0.0, 0.02 / 2 + FINGER[2] / 2 + 1e-3)
    nodes, gaps = way(table, begin, np.array([1.0, 0.0, 0.0]), np.zeros(3), 0.06, 0.0)
    every = np.arange(STEPS)
    assert gaps == pytest.approx(1e-3, abs=1e-9)
    shown = passed_by(_scan(table), nodes, 0, every, 3, 1e-3, np.full(STEPS, 0.9e-3))
    assert shown.all()
    assert not passed_by(_scan(table), nodes, 0, every, 3, 1e-3, np.full(STEPS, 1.01e-3)).any()


def test_a_finger_that_runs_into_a_step_is_not_shown_clear() -> None:
    """What it comes up against lies beyond the interval in which it was measured."""
    step = primitive((0.01, 0.1, 0.1), se3.translation(0.04, 0.0, 0.03))
    table = table_of(step, primitive(FINGER, np.eye(4)))
    begin = se3.translation(-0.03, 0.0, 0.03)
    nodes, gaps = way(table, begin, np.array([1.0, 0.0, 0.0]), np.zeros(3), 0.07, 0.0)
    shown = passed_by(_scan(table), nodes, 0, np.arange(STEPS), 0, float(gaps[0]), np.full(STEPS, 1e-3))
    assert gaps.min() == 0.0
    assert not shown.any()


def test_jaws_that_move_and_two_bodies_that_move_are_left_to_others() -> None:
    table = table_of(primitive((0.1, 0.1, 0.02), np.eye(4)), primitive(FINGER, np.eye(4)))
    begin = se3.translation(-0.03, 0.0, 0.02 / 2 + FINGER[2] / 2 + 1e-3)
    nodes, _ = way(table, begin, np.array([1.0, 0.0, 0.0]), np.zeros(3), 0.06, 0.0)
    every, spare = np.arange(STEPS), np.full(STEPS, 0.5e-3)
    assert passed_by(_scan(table), nodes, 0, every, 3, 1e-3, spare).all()
    both = nodes.travel + 1e-6
    strokes = nodes.stroke + np.array([0.0, 1e-6])
    for travel, stroke in ((both, nodes.stroke), (nodes.travel, strokes)):
        other = Nodes(
            nodes.body,
            nodes.centre,
            nodes.axes,
            travel,
            nodes.turn,
            nodes.shift,
            nodes.rest,
            nodes.tail,
            stroke,
        )
        assert not passed_by(_scan(table), other, 0, every, 3, 1e-3, spare).any()


def _over_a_plate(aside: Array) -> tuple[PieceTable, Nodes, Array]:
    """A finger that comes from beside a plate and goes over it, 1 mm above."""
    table = table_of(primitive((0.1, 0.1, 0.02), np.eye(4)), primitive(FINGER, np.eye(4)))
    begin = se3.translation(-0.09, 0.0, 0.02 / 2 + FINGER[2] / 2 + 1e-3)
    nodes, gaps = way(table, begin, np.array([1.0, 0.0, 0.0]), aside, 0.12, 0.0)
    return table, nodes, gaps


def test_a_way_that_sags_towards_a_plate_is_not_shown_clear_there() -> None:
    every, spare = np.arange(STEPS), np.full(STEPS, 0.85e-3)
    for sag, clear in ((0.0, True), (0.3e-3, False)):
        table, nodes, gaps = _over_a_plate(np.array([0.0, 0.0, -sag]))
        shown = passed_by(_scan(table), nodes, 0, every, 0, float(gaps[0]), spare)
        assert gaps[0] > 20e-3
        assert gaps.min() == pytest.approx(1e-3 - sag, abs=2e-6)
        assert shown[STEPS // 2] == clear
        assert (gaps[shown] >= spare[shown]).all()


def test_the_end_of_the_last_interval_counts() -> None:
    """A wall that the finger comes near only after the middle of it."""
    wall = primitive((0.01, 0.1, 0.1), se3.translation(0.03 + FINGER[0] / 2 + 0.5e-3 + 0.005, 0.0, 0.0))
    table = table_of(wall, primitive(FINGER, np.eye(4)))
    nodes, gaps = way(
        table, se3.translation(-0.03, 0.0, 0.0), np.array([1.0, 0.0, 0.0]), np.zeros(3), 0.06, 0.0
    )
    every, spare = np.arange(STEPS), np.full(STEPS, 1e-3)
    assert gaps[-1] == pytest.approx(0.5e-3, abs=1e-9)
    assert not passed_by(_scan(table), nodes, 0, every, 0, float(gaps[0]), spare)[-1]
    assert passed_by(_scan(table), nodes, 0, every[:-1], 0, float(gaps[0]), spare[:-1]).all()
