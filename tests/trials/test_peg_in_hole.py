"""The contact simulation against parts mating theory.

Source of the formulas: Whitney, Quasi-static assembly of compliantly supported rigid parts, J. Dyn. Sys.
Meas. Control 104 (1982) 65-77 (from memory, checked by statics).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

import numpy as np
import pytest
from tests.trials.peg_in_hole import PENETRATION_ALLOWED, PegInHole, insert_peg

from handfast.spatial import se3
from handfast.trials.contact_shapes import RoundHole, RoundShaft
from handfast.trials.insertion_model import MEASURED, ContactSettings, Support

Y = np.array([0.0, 1.0, 0.0])


def task(
    offset: float = 0.0,
    tilt: float = 0.0,
    *,
    clearance: float = 50e-6,
    depth: float = 3e-3,
    azimuth: float = 0.1,
    moving: Literal["shaft", "hole"] = "shaft",
) -> PegInHole:
    """A 10 mm peg, chamfer 0.5 mm at 45 deg, held 30 mm behind its tip."""
    hole, shaft = RoundHole(5e-3, 24e-3, 0.5e-3), RoundShaft(5e-3 - clearance / 2, 40e-3)
    off = se3.translation(offset * math.cos(azimuth), offset * math.sin(azimuth), 0.0) @ se3.rotation(Y, tilt)
    # The peg's origin goes in along +z of the hole; the hole's goes down the peg along -z of the peg.
    sign = 1.0 if moving == "shaft" else -1.0
    start, home = se3.translation(0, 0, -sign * 1e-3) @ off, se3.translation(0, 0, sign * depth) @ off
    support = Support(20e3, 20e3, 50.0, se3.translation(0, 0, -sign * 30e-3))
    return PegInHole(hole, shaft, moving, start, home, support, 0.02, 50.0, 0.15)


@pytest.mark.parametrize("moving", ["shaft", "hole"])
@pytest.mark.parametrize("clearance", [50e-6, 100e-6])
def test_capture_ends_at_chamfer_width_plus_radial_clearance(
    clearance: float, moving: Literal["shaft", "hole"]
) -> None:
    # Source: geometry; |e0| <= W + cR (Whitney 1982).
    low, high = 0.45e-3, 0.60e-3
    assert insert_peg(task(low, clearance=clearance, moving=moving)).outcome == "ok"
    assert insert_peg(task(high, clearance=clearance, moving=moving)).outcome == "failed"
    while high - low > 1e-6:
        middle = 0.5 * (low + high)
        if insert_peg(task(middle, clearance=clearance, moving=moving)).outcome == "ok":
            low = middle
        else:
            high = middle
    # A polygon of 32 sides around the mouth: where two faces meet it is wider by 0.48 % of the radius times
    # the square of how far that is from a face's middle; at 0.1 rad, nearly on a corner, the peg's own
    # edge still meets the faces' middles first: a few um.
    assert low == pytest.approx(0.5e-3 + clearance / 2, abs=4e-6)


def test_a_peg_outside_the_chamfer_says_so() -> None:
    result = insert_peg(task(0.56e-3))
    assert (result.outcome, result.cause) == ("failed", "missed the chamfer")
    assert result.offset == pytest.approx(0.56e-3, abs=1e-9)
    assert result.peak_force >= 50.0
    assert abs(result.depth) < 5e-5


def test_force_of_crossing_a_chamfer() -> None:
    # Worked example after Whitney 1982: Kx 7 N/mm, Ktheta 53 000 N mm/rad, Lg 45 mm, r 6.35 mm, mu 0.1,
    # 45 deg: 9.1067 N and 0.005235 rad once the peg has been pushed 1.3 mm aside.
    r, mu, lg, kx, kt, e, width = 6.35e-3, 0.1, 45e-3, 7e3, 53.0, 1.3e-3, 1.5e-3
    half = math.sqrt(0.5)
    a, b = half * (1 + mu), half * (1 - mu)
    delta = (kx * lg**2 + kt) * b - kx * lg * r * a
    force, turn = kx * kt * a / delta, kx * (lg * b - r * a) / delta  # per metre aside
    assert force * e == pytest.approx(9.1067, abs=1e-3)
    assert turn * e == pytest.approx(0.005235, abs=1e-6)
    # Stopped on the chamfer, just before its end: beyond it the tilted rim catches in three dimensions.
    depth = 1.45e-3
    aside = (depth - (width - e)) / (1 - r * turn)  # the turn lowers the rim by r times itself
    hole, shaft = RoundHole(6.375e-3, 24e-3, width), RoundShaft(r, 40e-3)
    off = se3.translation(e + 0.025e-3, 0, 0)
    start, home = se3.translation(0, 0, -1e-3) @ off, se3.translation(0, 0, depth) @ off
    support = Support(kx, 200e3, kt, se3.translation(0, 0, -lg))
    result = insert_peg(PegInHole(hole, shaft, "shaft", start, home, support, 0.02, 50.0, mu))
    assert result.outcome == "ok"
    assert result.peak_force == pytest.approx(force * aside, rel=0.02)
    assert math.acos(result.T_fixed_moving[2, 2]) == pytest.approx(turn * aside, rel=0.02)


@pytest.mark.parametrize("moving", ["shaft", "hole"])
@pytest.mark.parametrize("offset", [0.4e-3, 0.84e-3])
def test_two_chamfers_are_crossed_without_a_snag(moving: Literal["shaft", "hole"], offset: float) -> None:
    """Held at the tip, where it cannot turn: F = Kx q (1 + mu)/(1 - mu) for 45 deg (Whitney 1982, Lg = 0).

    At 0.84 mm the tip's cone slides along the hole's, edge over edge, to where the cylinder begins.
    """
    hole, shaft = RoundHole(4.025e-3, 12e-3, 0.5e-3), RoundShaft(4e-3, 25e-3, 0.8e-3)
    sign = 1.0 if moving == "shaft" else -1.0
    start, home = se3.translation(offset, 0, -sign * 1e-3), se3.translation(offset, 0, sign * 3e-3)
    support = Support(20e3, 20e3, 500.0, np.eye(4))
    result = insert_peg(PegInHole(hole, shaft, moving, start, home, support, 0.02, 50.0, 0.15))
    assert result.outcome == "ok"
    assert result.peak_force == pytest.approx(20e3 * (offset - 0.025e-3) * 1.15 / 0.85, rel=0.04)


def test_a_tilt_beyond_what_the_hole_lets_in_is_stopped_by_force() -> None:
    # Largest tilt that enters at all: sqrt(2 c), c = 0.005 here: 0.1 rad (Whitney, class notes).
    # A stiff hand at 0.15 rad jams.
    stiff = replace(
        task(tilt=0.15, depth=8e-3), support=Support(1e6, 1e6, 5e3, se3.translation(0, 0, -30e-3))
    )
    result = insert_peg(stiff)
    assert result.outcome == "failed"
    assert result.peak_force >= 50.0


def test_equal_tasks_give_equal_results() -> None:
    first, second = insert_peg(task(0.3e-3, 2e-3)), insert_peg(task(0.3e-3, 2e-3))
    assert (first.peak_force, first.penetration, first.steps) == (
        second.peak_force,
        second.penetration,
        second.steps,
    )
    assert np.array_equal(first.T_fixed_moving, second.T_fixed_moving)


def test_soft_contact_is_called_invalid() -> None:
    soft = ContactSettings(stiffness_time=1600.0, impedance=(0.9, 0.95, 1e-3, 0.5, 2.0))
    assert insert_peg(task(0.4e-3), MEASURED).valid
    result = insert_peg(task(0.4e-3), soft)
    assert not result.valid
    assert result.penetration > PENETRATION_ALLOWED


def test_close_fit_of_7_um_stays_valid() -> None:
    # 10 H7/g6 leaves 5 to 29 um (ISO 286-1); 14 um lies low in it.
    result = insert_peg(task(0.25e-3, 1.5e-3, clearance=14e-6, depth=15e-3))
    assert result.outcome == "ok"
    assert result.valid


def test_a_hole_that_seats_before_its_commanded_depth_is_home() -> None:
    cover = task(0.1e-3, moving="hole", clearance=60e-6, depth=6e-3)
    # The face to sit on stands 0.4 mm higher than planned; the command alone would press on.
    seat = se3.translation(0, 0, -5.6e-3)
    result = insert_peg(replace(cover, T_fixed_seat=seat))
    assert result.outcome == "ok"
    assert result.depth == pytest.approx(5.6e-3, abs=5e-5)
    assert result.peak_force >= 50.0
    short = insert_peg(replace(cover, T_fixed_seat=None))
    assert short.depth == pytest.approx(6e-3, abs=5e-5)


def test_interference_is_refused() -> None:
    with pytest.raises(ValueError, match="smaller than its hole"):
        insert_peg(task(clearance=-2e-6))
