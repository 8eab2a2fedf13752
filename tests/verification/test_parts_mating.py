"""Published and derived values of quasi-static parts mating.

Whitney, Quasi-static assembly of compliantly supported rigid parts, J. Dyn. Sys. Meas. Control 104 (1982)
65-77, and class notes of MIT OpenCourseWare 2.875 (formulas; the notes were looked up, the paper is from
memory). The numbers were computed from those formulas outside this package, except where a line says
otherwise.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from handfast.uncertainty.chamfer import chamfer_crossing, chamfer_locks
from handfast.uncertainty.jamming import jamming_corners, jamming_parameter, slides
from handfast.uncertainty.one_point import one_point_contact
from handfast.uncertainty.onset import onset_depth
from handfast.uncertainty.peg_in_hole import PegInHole, Support
from handfast.uncertainty.two_point import largest_entry_tilt, two_point_depth, two_point_tilt, wedge_tilt

MM = 1e-3
# Kx 7 N/mm, Ktheta 53 000 N mm/rad, Lg 45 mm.
SUPPORT = Support(7000.0, 53.0, 45 * MM)
MU = 0.1


def pair(hole_diameter: float, peg_diameter: float) -> PegInHole:
    return PegInHole(0.5 * hole_diameter * MM, 0.5 * peg_diameter * MM, depth=20 * MM, chamfer_width=2 * MM)


@pytest.mark.parametrize(("degrees", "depth_mm"), [(3.0, 7.632), (1.5, 15.275), (6.0, 3.804)])
def test_two_point_depth_of_a_10_mm_peg_in_a_10_4_mm_hole(degrees: float, depth_mm: float) -> None:
    assert two_point_depth(pair(10.4, 10.0), math.radians(degrees)) / MM == pytest.approx(depth_mm, abs=5e-4)


def test_wedging_limit_of_the_same_pair_at_mu_0_3_lies_at_7_346_degrees() -> None:
    # MIT OCW 2.875 notes: c/mu with c = (D - d)/D. The small-angle form, 3 % from l2 = mu d by the exact
    # depth.
    peg = pair(10.4, 10.0)
    assert math.degrees(wedge_tilt(peg, 0.3)) == pytest.approx(7.346, abs=5e-4)
    assert two_point_depth(peg, wedge_tilt(peg, 0.3)) == pytest.approx(0.3 * 10.0 * MM, rel=0.04)


@pytest.mark.parametrize(("mu", "degrees"), [(0.1, 0.573), (0.2, 0.286), (0.3, 0.191)])
def test_wedging_limit_of_mid_h7_g6_at_20_mm(mu: float, degrees: float) -> None:
    peg = pair(20.01, 19.99)
    assert peg.clearance_ratio == pytest.approx(0.0010, abs=1e-6)
    assert math.degrees(wedge_tilt(peg, mu)) == pytest.approx(degrees, abs=5e-4)


def test_largest_tilt_that_enters_is_about_sqrt_2c() -> None:
    peg = pair(20.01, 19.99)
    assert largest_entry_tilt(peg) == pytest.approx(math.acos(19.99 / 20.01), rel=1e-12)
    assert largest_entry_tilt(peg) == pytest.approx(math.sqrt(2 * peg.clearance_ratio), rel=1e-3)


def test_small_angle_two_point_tilt_agrees_with_the_exact_depth() -> None:
    peg = pair(10.05, 10.0)
    tilt = two_point_tilt(peg, 8 * MM)
    assert tilt == pytest.approx(0.05 / 8, rel=1e-12)  # c D/l
    assert two_point_depth(peg, tilt) == pytest.approx(8 * MM, rel=1e-4)


def test_chamfer_crossing_of_the_worked_example() -> None:
    peg = PegInHole(
        6.375 * MM, 6.35 * MM, depth=20 * MM, chamfer_width=2 * MM, chamfer_angle=math.radians(45)
    )
    travel = 1.3 * MM / math.tan(math.radians(45))  # z = 1.3 mm down a 45 degree chamfer
    crossing = chamfer_crossing(peg, SUPPORT, MU, travel)
    assert crossing.tilt == pytest.approx(0.005235, abs=5e-7)
    assert crossing.lateral_force == pytest.approx(7.4509, abs=5e-5)
    assert crossing.axial_force == pytest.approx(9.1067, abs=5e-5)


def test_chamfer_crossing_obeys_statics() -> None:
    # Independent of the formula: one normal force and its friction at the peg's edge against both springs.
    peg = PegInHole(
        6.375 * MM, 6.35 * MM, depth=20 * MM, chamfer_width=2 * MM, chamfer_angle=math.radians(35)
    )
    travel = 0.8 * MM
    crossing = chamfer_crossing(peg, SUPPORT, 0.25, travel)
    normal = math.hypot(crossing.lateral_force, crossing.axial_force) / math.hypot(1.0, 0.25)
    sin, cos = math.sin(math.radians(35)), math.cos(math.radians(35))
    assert crossing.lateral_force == pytest.approx(normal * (sin - 0.25 * cos), rel=1e-9)
    assert crossing.axial_force == pytest.approx(normal * (cos + 0.25 * sin), rel=1e-9)
    moment = crossing.lateral_force * 45 * MM - crossing.axial_force * 6.35 * MM
    assert crossing.tilt == pytest.approx(moment / 53.0, rel=1e-9)
    # The tip moved by what the lateral spring gave plus what the tilt swept.
    assert travel == pytest.approx(crossing.lateral_force / 7000.0 + 45 * MM * crossing.tilt, rel=1e-9)


@pytest.mark.parametrize(("degrees", "locks"), [(16.0, True), (17.5, False)])
def test_chamfer_holds_itself_where_its_slope_is_within_friction(degrees: float, locks: bool) -> None:
    # tan 16.7 deg = 0.3: derived from statics.
    peg = PegInHole(6.0 * MM, 5.95 * MM, 10 * MM, 1 * MM, math.radians(degrees))
    assert chamfer_locks(peg, Support(1e3, 1e3, 1e-6), 0.3) is locks
    # Wherever the support turns: a compliance centre beyond the tip changes nothing.
    assert chamfer_locks(peg, Support(1e3, 1e-3, -0.005), 0.3) is locks


# c 0.004, R 6.375 mm: cR 0.0255 mm.
ONE_POINT_PEG = PegInHole(6.375 * MM, 6.375 * MM * (1 - 0.004), depth=20 * MM, chamfer_width=2 * MM)


@pytest.mark.parametrize(("depth_mm", "tilt", "force"), [(1.0, 0.005830, 0.7126), (10.0, 0.004992, 0.7699)])
def test_one_point_contact_of_the_worked_example(depth_mm: float, tilt: float, force: float) -> None:
    contact = one_point_contact(ONE_POINT_PEG, SUPPORT, MU, 1.3 * MM, 0.0, depth_mm * MM)
    assert contact.tilt == pytest.approx(tilt, abs=5e-7)
    assert contact.axial_force == pytest.approx(force, abs=5e-5)


def test_two_point_onset_of_the_worked_example() -> None:
    onset = onset_depth(ONE_POINT_PEG, SUPPORT, MU, np.array([1.3 * MM]), np.array([0.0]))
    assert onset[0] / MM == pytest.approx(10.278, abs=5e-4)


def test_jamming_diagram_of_the_worked_example() -> None:
    peg = PegInHole(5.05 * MM, 5.0 * MM, depth=20 * MM)
    assert jamming_parameter(peg, 0.3, 5 * MM) == pytest.approx(1.6667, abs=5e-5)
    assert slides(peg, 0.3, 5 * MM, 0.0, 1.6)
    assert not slides(peg, 0.3, 5 * MM, 0.0, 1.7)


def test_jamming_corners_bound_the_sliding_region() -> None:
    # Corners as published; a hair inside each one slides, a hair outside does not.
    peg = PegInHole(5.05 * MM, 5.0 * MM, depth=20 * MM)
    lam = jamming_parameter(peg, 0.3, 5 * MM)
    corners = jamming_corners(peg, 0.3, 5 * MM)
    assert corners[0] == pytest.approx((-1 / 0.3, 2 * lam + 1))
    assert corners[2] == pytest.approx((1 / 0.3, -(2 * lam + 1)))
    for force, moment in corners:
        assert slides(peg, 0.3, 5 * MM, 0.999 * force, 0.999 * moment)
        assert not slides(peg, 0.3, 5 * MM, 1.001 * force, 1.001 * moment)
    # Past the vertical sides, between the slanted lines: the side force alone stops the peg.
    assert not slides(peg, 0.3, 5 * MM, 1.1 / 0.3, -1.1 * (1 + lam))
    assert slides(peg, 0.3, 5 * MM, 0.9 / 0.3, -0.9 * (1 + lam))


def test_capture_range_is_chamfer_width_plus_clearance() -> None:
    # Geometry; contact simulation met it within 2 um in eight cases.
    assert pair(10.05, 10.0).capture_radius == pytest.approx(2.025 * MM)
