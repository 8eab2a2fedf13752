"""Which point of a part leads, against corners and rims worked out by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from handfast.model.feature import Feature
from handfast.model.part import Part
from handfast.model.shape import Box, Cylinder, Solid
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.uncertainty.support_point import support_point, turns_of

Array = NDArray[np.float64]
DOWN = np.array([0.0, 0.0, -1.0])
TURNING = turns_of(np.diag([math.radians(0.3) ** 2] * 3))
PLATE = Part("plate", (Solid(Box((0.06, 0.04, 0.006))),), (), 0.1)
TIP = Feature("tip", "shaft", Pose((0.0, 0.0, -0.02), (0.0, 1.0, 0.0, 0.0)), diameter=0.008, length=0.04)
PIN = Part("pin", (Solid(Cylinder(0.004, 0.04)),), (TIP,), 0.016)


def towards(axis: Array, degrees: float) -> Array:
    """-x, as a part sees it that has been turned about an axis."""
    turn = se3.rotation(axis, math.radians(degrees))[:3, :3]
    return np.asarray(turn.T @ np.array([-1.0, 0.0, 0.0]))


def test_a_plate_turned_in_its_plane_and_tilted_leads_with_one_corner() -> None:
    both = se3.rotation(np.array([0.0, 0, 1]), 0.5) @ se3.rotation(np.array([0.0, 1, 0]), 0.4)
    found = support_point(PLATE, "", both[:3, :3].T @ np.array([-1.0, 0, 0]), DOWN, TURNING)
    assert found is not None
    corners = np.array([[a, b, c] for a in (-0.03, 0.03) for b in (-0.02, 0.02) for c in (-0.003, 0.003)])
    lowest = corners[np.argmin((corners @ both[:3, :3].T)[:, 0])]
    assert found == pytest.approx(lowest, abs=1e-12)


def test_a_flush_edge_is_no_point_unless_the_part_hardly_turns() -> None:
    """Sixty millimetres of edge wander by 0.3 mm at 0.3 deg; six millimetres by 3 um at 0.03 deg (two
    sigma 6 um).
    """
    assert support_point(PLATE, "", towards(np.array([0.0, 0, 1]), 0), DOWN, TURNING) is None
    turned = towards(np.array([0.0, 0, 1]), 30)
    assert support_point(PLATE, "", turned, DOWN, TURNING) is None
    steady = turns_of(np.diag([math.radians(0.03) ** 2] * 3))
    found = support_point(PLATE, "", turned, DOWN, steady)
    assert found == pytest.approx([-0.03, 0.02, -0.003], abs=1e-12)


def test_a_tilted_pin_leads_with_the_rim_of_its_tip() -> None:
    found = support_point(PIN, "", towards(np.array([0.0, 1, 0]), 25), DOWN, TURNING)
    assert found == pytest.approx([-0.004, 0.0, -0.02], abs=1e-9)


def test_facets_are_moved_out_to_the_round_shaft() -> None:
    """Towards a direction between two corners of the 64-sided tip the chord lies 4.8 um inside."""
    angle = math.radians(360 / 128)
    direction = se3.rotation(np.array([0.0, 0, 1]), angle)[:3, :3] @ towards(np.array([0.0, 1, 0]), 25)
    found = support_point(PIN, "", direction, DOWN, TURNING)
    assert found is not None
    assert math.hypot(found[0], found[1]) == pytest.approx(0.004, abs=1e-9)
    assert found[:2] / 0.004 == pytest.approx(direction[:2] / np.linalg.norm(direction[:2]), abs=1e-9)


def test_a_pin_may_stand_at_any_angle_about_its_own_axis() -> None:
    """Six degrees of roll bring another spot of the rim to the front, no nearer and no further."""
    rolls = turns_of(np.diag([math.radians(0.1), math.radians(0.1), math.radians(6.0)]) ** 2)
    found = support_point(PIN, "", towards(np.array([0.0, 1, 0]), 25), DOWN, rolls)
    assert found == pytest.approx([-0.004, 0.0, -0.02], abs=1e-9)
