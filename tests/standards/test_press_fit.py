"""The thick-wall formula against other forms of it, and against the equations it comes from."""

from __future__ import annotations

import math

import numpy as np
import pytest

from handfast.standards.limits_and_fits import limits
from handfast.standards.press_fit import POISSON, PressFit


def test_same_modulus_in_the_form_of_radii() -> None:
    """p = E delta/(2 R^3) (ro^2 - R^2)(R^2 - ri^2)/(ro^2 - ri^2), delta the interference of the radii
    (Shigley's Mechanical Engineering Design, section on press fits, from memory): 38.8 MPa for 20 um on a
    solid 40 mm shaft in a ring of 80 mm, E 207 GPa (by hand: 207e9 * 10e-6/(2 * 0.02^3) * 0.0012 *
    0.0004/0.0016)."""
    fit = PressFit(0.040, 0.030, 207e9, 207e9, 0.080)
    assert fit.pressure(20e-6) == pytest.approx(38.8125e6, rel=1e-12)
    hollow = PressFit(0.040, 0.030, 207e9, 207e9, 0.080, 0.010)
    R, ro, ri = 0.020, 0.040, 0.005
    wanted = 207e9 * 10e-6 / (2 * R**3) * (ro**2 - R**2) * (R**2 - ri**2) / (ro**2 - ri**2)
    assert hollow.pressure(20e-6) == pytest.approx(wanted, rel=1e-12)


@pytest.mark.parametrize("outer", [0.006, 0.010, 0.1])
@pytest.mark.parametrize("bore", [0.0, 0.002])
def test_it_solves_lames_equations(outer: float, bore: float) -> None:
    """Radial movement u = A r + B/r in either ring, plane stress; free surfaces carry nothing, the joint the
    same from both sides, and the two movements make up half the interference: solved as linear equations."""
    R, Z, hub, shaft = 0.0025, 8e-6, 70e9, 210e9

    def stress(E: float, r: float) -> tuple[float, float]:
        """Radial stress of A = 1 and of B = 1."""
        return E / (1 - POISSON), -E / (1 + POISSON) / r**2

    # Unknown: A, B of the hub, A, B of the shaft.
    rows = [
        (*stress(hub, outer / 2), 0.0, 0.0),
        (0.0, 0.0, *(stress(shaft, bore / 2) if bore else (0.0, shaft / R**2))),
        (*stress(hub, R), *(-s for s in stress(shaft, R))),
        (R, 1 / R, -R, -1 / R),
    ]
    scale = np.abs(np.array(rows)).max(axis=1)
    A, B, *_ = np.linalg.solve(np.array(rows) / scale[:, None], np.array([0, 0, 0, Z / 2]) / scale)
    pressure = -(stress(hub, R)[0] * A + stress(hub, R)[1] * B)
    assert PressFit(2 * R, 0.01, hub, shaft, outer, bore).pressure(Z) == pytest.approx(pressure, rel=1e-6)


def test_a_ring_around_the_hole_makes_it_easier_and_a_large_body_is_its_limit() -> None:
    large = PressFit(0.005, 0.01, 70e9, 210e9)
    assert PressFit(0.005, 0.01, 70e9, 210e9, 0.008).force(1e-5, 0.15) < 0.8 * large.force(1e-5, 0.15)
    assert PressFit(0.005, 0.01, 70e9, 210e9, 5.0).force(1e-5, 0.15) == pytest.approx(
        large.force(1e-5, 0.15), rel=1e-5
    )
    assert large.force(large_sure := large.interference(50.0, 0.15), 0.15) == pytest.approx(50.0)
    assert 0 < large_sure < 1e-6


def test_a_fit_of_the_handbook() -> None:
    """50 H7/s6: hole 0/+25 um, shaft +43/+59 um, so 18 to 59 um of interference (ISO 286-1; Bhandari, Design
    of Machine Elements, example 3.3, looked up)."""
    hole, shaft = limits(0.05, "H7"), limits(0.05, "s6")
    assert shaft.lower - hole.upper == pytest.approx(18e-6, abs=1e-9)
    assert shaft.upper - hole.lower == pytest.approx(59e-6, abs=1e-9)
    fit = PressFit(0.05, 0.04, 210e9, 210e9, 0.1)
    # mu pi D l p, p = 210e9 * 59e-6/0.05 * (1 - 1/4)/2 = 92.9 MPa, by hand.
    assert fit.force(59e-6, 0.12) == pytest.approx(0.12 * math.pi * 0.05 * 0.04 * 92.925e6, rel=1e-6)


def test_clearance_presses_on_nothing() -> None:
    assert PressFit(0.005, 0.01, 70e9, 210e9).force(-3e-6, 0.15) == 0.0


@pytest.mark.parametrize("wrong", [{"bore": 0.005}, {"hub_diameter": 0.005}, {"hub": 0.0}])
def test_rings_that_cannot_be_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="expected bore < diameter"):
        PressFit(**{"diameter": 0.005, "length": 0.01, "hub": 70e9, "shaft": 210e9, **wrong})
