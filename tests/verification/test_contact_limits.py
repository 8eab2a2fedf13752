"""The trials' fast contact solver against the formulas of parts mating, tabulated beside each other.

Source: Whitney, Quasi-static assembly of compliantly supported rigid parts, J. Dyn. Sys. Meas. Control 104
(1982) 65-77 (from memory, checked by statics).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.trials.insertions import SUPPORT, peg

from handfast.trials.insertion import Inserted
from handfast.trials.quick_contact import insert_quickly

WIDTH = 0.5e-3


@pytest.mark.parametrize("diameter", [10e-3, 25e-3])
@pytest.mark.parametrize("clearance", [20e-6, 50e-6, 100e-6, 200e-6])
def test_capture_ends_at_chamfer_width_plus_radial_clearance(diameter: float, clearance: float) -> None:
    # |e| <= W + cR, within 5 um.
    low, high = WIDTH - 20e-6, WIDTH + clearance / 2 + 40e-6

    def goes_in(offset: float) -> bool:
        return insert_quickly(peg(offset, diameter=diameter, clearance=clearance)).outcome == "ok"

    assert goes_in(low)
    assert not goes_in(high)
    while high - low > 0.5e-6:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if goes_in(middle) else (low, middle)
    assert low == pytest.approx(WIDTH + clearance / 2, abs=5e-6)


def inserted(tilt: float, limit: float = 5000.0, friction: float = 0.15) -> Inserted:
    return insert_quickly(replace(peg(0.0, tilt, depth=20e-3, limit=limit), friction=friction))


def two_point_force(tilt: float, friction: float, deepest: float) -> float:
    """Greatest force along the hole in two-point contact [N], by statics.

    The peg leans from the tip on one wall to the mouth on the other, so that its pose follows from its depth;
    side force and moment of the springs give both normal forces, and friction of both holds it back (Whitney
    1982, section on two-point contact).
    """
    r, clearance, chamfer, lever = 4.975e-3, 25e-6, 0.5e-3, 30e-3
    most = 0.0
    for length in np.linspace(1e-4, deepest - chamfer, 2000):
        leans = 2 * clearance / length
        side = -SUPPORT.lateral * (clearance - leans * lever + lever * tilt)
        moment = -SUPPORT.angular * (leans - tilt)
        balance = np.array([[-1.0, 1.0], [r * friction - lever, lever - length - r * friction]])
        tip, mouth = np.linalg.solve(balance, [-side, -moment])
        if tip > 0 and mouth > 0:
            most = max(most, friction * float(tip + mouth))
    return most


@pytest.mark.parametrize(
    ("tilt", "friction"), [(8e-3, 0.15), (12e-3, 0.15), (8e-3, 0.3), (15e-3, 0.3), (8e-3, 0.5)]
)
def test_force_of_two_point_contact(tilt: float, friction: float) -> None:
    # Measured 0.5 to 2 % above: the formula is planar and takes angles as small.
    found = inserted(tilt, friction=friction)
    assert (found.outcome, found.unsettled) == ("ok", 0)
    assert found.peak_force == pytest.approx(two_point_force(tilt, friction, 20e-3), rel=0.03)


@pytest.mark.parametrize(
    ("tilt", "depth", "friction"),
    [(8e-3, 8e-3, 0.15), (8e-3, 10e-3, 0.15), (12e-3, 6e-3, 0.15), (8e-3, 9e-3, 0.3), (10e-3, 8e-3, 0.5)],
)
def test_a_sliding_peg_stands_on_the_border_of_the_jamming_diagram(
    tilt: float, depth: float, friction: float
) -> None:
    # M/(r Fz) + mu (1 + lam) Fx/Fz = lam with lam = l/(2 r mu), M about the tip: inside it slides faster,
    # outside it jams (Whitney 1982, his figure 11; MIT OCW 2.875). Forces are read off the springs of the
    # hand.
    found = insert_quickly(replace(peg(0.0, tilt, depth=depth, limit=5000.0), friction=friction))
    assert (found.outcome, found.unsettled) == ("ok", 0)
    r, lever, chamfer = 4.975e-3, 30e-3, 0.5e-3
    leans, tip = math.asin(found.T_held[0, 2]), found.T_held[0, 3]
    side = -SUPPORT.lateral * ((tip - lever * math.sin(leans)) + lever * math.sin(tilt))
    along = found.peak_force  # it still rises at this depth
    moment = -SUPPORT.angular * (leans - tilt) - lever * side + lever * leans * along
    lam = (depth - chamfer) / (2 * r * friction)
    assert moment / (r * along) + friction * (1 + lam) * side / along == pytest.approx(lam, rel=0.04)


@pytest.mark.parametrize("friction", [0.15, 0.3, 0.5])
def test_it_says_where_it_finds_no_balance_any_more(friction: float) -> None:
    # Up to the wedging tilt c/mu (MIT OCW 2.875) every step comes to balance. Beyond, where the line between
    # both contacts lies in both cones of friction (l2 < mu d), forces may lock each other; by half as much
    # again at 0.15.
    wedges = 50e-6 / 10e-3 / friction
    assert inserted(0.9 * wedges, friction=friction).unsettled == 0
    if friction == 0.15:
        assert inserted(1.6 * wedges, friction=friction).unsettled > 0


def test_no_peg_enters_beyond_the_largest_entry_tilt() -> None:
    # theta = sqrt(2 c), c the clearance over the diameter: a peg leans against both sides of the mouth at
    # once.
    largest = math.sqrt(2 * 50e-6 / 10e-3)
    assert inserted(1.4 * largest, 50.0).outcome == "failed"
    assert inserted(0.02 * largest, 50.0).outcome == "ok"
