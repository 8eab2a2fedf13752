"""Whether drawn parts can go together at all: against two pins in two holes worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.uncertainty import first_fit_chart as c

from handfast.model.chart import Chart
from handfast.model.feature import Feature
from handfast.model.ledger import MateRow
from handfast.model.mate import FeaturePair
from handfast.model.project import Project
from handfast.spatial.pose import Pose
from handfast.uncertainty.assemblable import Together, can_go
from handfast.uncertainty.budget import budget
from handfast.uncertainty.draws_matrix import DrawsMatrix

NONE = DrawsMatrix((), np.zeros((4, 0)), np.zeros(4))


def two(rooms: tuple[float, float], apart: float = 0.06) -> Together:
    """Two round regions, the second `apart` along x from the point that the part turns about."""
    A = np.array([[[1.0, 0, 0], [0, 1.0, 0]], [[1.0, 0, 0], [0, 1.0, apart]]])
    return Together(NONE, A, np.array([[rooms[0]], [rooms[1]]]), np.array([0, 1]), 2)


def goes(asked: Together, off: np.ndarray) -> np.ndarray:
    return can_go(asked, off, np.zeros((len(off), asked.pairs), dtype=np.intp))


def test_two_pins_go_in_two_holes_if_their_distances_agree_within_the_play() -> None:
    """Shift and turn take up everything but the difference of the distances, which may be c1/2 + c2/2."""
    rng = np.random.default_rng(2)
    off = rng.normal(scale=30e-6, size=(5000, 4))
    rooms = (20e-6, 35e-6)
    difference = np.abs(off[:, 2] - off[:, 0])
    wanted = difference <= sum(rooms)
    clear = np.abs(difference - sum(rooms)) > 0.3e-6
    found = goes(two(rooms), off)
    assert 0.6 < wanted.mean() < 0.95
    assert (found[clear] == wanted[clear]).all()
    assert (found <= wanted).all(), "never says yes where the distances cannot agree"


def test_without_the_turn_both_directions_count() -> None:
    asked = two((20e-6, 35e-6), apart=0.0)
    rng = np.random.default_rng(3)
    off = rng.normal(scale=25e-6, size=(5000, 4))
    between = np.hypot(*(off[:, 2:] - off[:, :2]).T)
    clear = np.abs(between - 55e-6) > 0.2e-6
    assert (goes(asked, off)[clear] == (between <= 55e-6)[clear]).all()


def test_three_discs_meet_or_do_not() -> None:
    A = np.zeros((3, 2, 3))
    A[:, 0, 0] = A[:, 1, 1] = 1.0
    corner = [np.array([math.cos(a), math.sin(a)]) for a in (0.0, 2 * math.pi / 3, 4 * math.pi / 3)]
    off = np.concatenate(corner)[None, :]
    for room, wanted in ((1.01, True), (0.99, False)):  # the circumscribed circle has radius 1
        asked = Together(NONE, A, np.full((3, 1), room), np.array([0, 1, 2]), 3)
        assert goes(asked, off).tolist() == [wanted]


def two_pins(tolerance: float, kind: str = "hole") -> tuple[Project, Chart]:
    """First-fit whose cover has a second hole (or slot), over a second pin that the block has grown."""
    block_pin = Feature("post", "shaft", Pose((0.012, 0.0, 0.05)), 5e-3, "h6", 0.02)
    below = Pose((0.012, 0.0, 0.0))
    size = (5.6e-3, 5e-3) if kind == "slot" else None
    hole = Feature("over", kind, below, 5e-3, "F7", 6e-3, size, position_tolerance=tolerance)  # type: ignore[arg-type]
    grown = {"block": block_pin, "cover": hole}
    product = c.PROJECT.product
    parts = tuple(
        replace(p, features=(*p.features, grown[p.name])) if p.name in grown else p for p in product.parts
    )
    second = FeaturePair("over", "block", "post", -0.02)
    mates = tuple(
        replace(m, pairs=(*m.pairs, second)) if m.name == "cover-on-block" else m for m in product.mates
    )
    return replace(c.PROJECT, product=replace(product, parts=parts, mates=mates)), c.chart()


def cover_row(tolerance: float, kind: str = "hole") -> MateRow:
    project, chart = two_pins(tolerance, kind)
    found = budget(project, chart, "sha", c.hand_poses(chart))
    return next(r for r in found.rows if r.mate == "cover-on-block")


def test_the_row_tells_the_share_of_lots_from_the_tolerances() -> None:
    """Pin in its bore with play: 40 mm between the holes, of which one is bored off by 10 um, the other
    drilled off within its tolerance; what is left of the distance has to be taken up by the clearances.

    Normal, by hand: sigma of the difference along x = hypot(bore 10 um cut at three, tolerance/6); room =
    half of 8 E9/g6's middle 52.5 um, of 5 F7/h6's 20 um, and the pin's own play, half of 17 um.
    """
    for tolerance in (0.2e-3, 0.4e-3):
        sigma = math.sqrt(0.97334) * math.hypot(10e-6, tolerance / 6)
        room = 0.5 * (52.5e-6 + 20e-6 + 17e-6)
        expected = math.erf(room / sigma / math.sqrt(2))
        found = cover_row(tolerance)
        # 4096 lots, sizes at their nodes: four standard errors and one point.
        assert found.assemblable == pytest.approx(expected, abs=0.04)
        assert found.probability.high <= found.assemblable
    assert cover_row(0.02e-3).assemblable > 0.99


def test_a_slot_takes_up_the_distance_that_a_hole_does_not() -> None:
    hole, slot = cover_row(0.6e-3), cover_row(0.6e-3, "slot")
    assert hole.assemblable < 0.5
    assert slot.assemblable > 0.95
    assert "of lots only" in hole.verdict


def test_a_single_pair_with_clearance_always_goes_together() -> None:
    chart = c.chart()
    rows = budget(c.PROJECT, chart, "sha", c.hand_poses(chart)).rows
    assert [r.assemblable for r in rows] == [1.0, 1.0, 1.0]
