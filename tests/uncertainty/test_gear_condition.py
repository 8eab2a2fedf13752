"""Gears: what the deviation does at the pitch point, against turning points about axes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.uncertainty.true_build import exp

from handfast.model.feature import Chamfer, Feature
from handfast.model.mate import FeaturePair, Mate
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.uncertainty.entry import Entry, PairEntry
from handfast.uncertainty.error_form import nothing
from handfast.uncertainty.gear_condition import gear_condition
from handfast.uncertainty.refusal import BudgetError

FIXED = Feature("wheel", "gear", Pose(), teeth=30, module=1e-3)
MOVING = Feature("pinion", "gear", Pose(), teeth=18, module=1e-3, chamfer=Chamfer(0.3e-3, 0.785))
# Half the sum of the pitch diameters, at 50 degrees.
AWAY = 24e-3 * np.array([math.cos(0.87), math.sin(0.87)])
PLACED = np.asarray(se3.translation(float(AWAY[0]), float(AWAY[1]), 2e-3))


def entry(moving: Feature = MOVING, backlash: tuple[float, float] | None = (0.06e-3, 0.12e-3)) -> Entry:
    drawn = FeaturePair("pinion", "body", "wheel", 0.0, backlash)
    mate = Mate("mesh", "gear-mesh", "gear", "body", (drawn,))
    pair = PairEntry(moving, FIXED, "body", 0.0, nothing(), PLACED)
    return Entry(mate, "element", (pair,), (), (), (), (), nothing(), 50.0)


def moved(twist: list[float]) -> float:
    """How far the moving flank at the pitch point goes along the pitch circle, in truth [m]."""
    away = AWAY / np.linalg.norm(AWAY)
    point = np.array([*(15e-3 * away), 2e-3, 1.0])  # one pitch radius of the wheel from its axis
    about = np.array(PLACED)
    T = about @ exp(np.array([twist]))[0] @ np.linalg.inv(about)
    return float((T @ point - point)[:2] @ np.array([-away[1], away[0]]))


@pytest.mark.parametrize("freedom", range(6))
def test_each_freedom_moves_the_flank_as_a_real_motion_does(freedom: int) -> None:
    twist = [0.0] * 6
    twist[freedom] = 1e-6
    rows = gear_condition(entry(), 0).requirements[0].rows
    assert rows[0] @ twist == pytest.approx(moved(twist), abs=1e-13)
    assert not rows[1].any()


def test_the_window_is_the_backlash_and_repeats_with_the_teeth() -> None:
    found = gear_condition(entry(), 0)
    sure, other = found.requirements
    assert sure.radii.tolist() == [0.03e-3]
    # At the other end the most backlash, and the chamfer turns the gear.
    assert other.radii.tolist() == pytest.approx([0.06e-3 + 0.3e-3])
    assert sure.period == pytest.approx(math.pi * 1e-3)
    # Phase window: backlash over radius, 18 teeth of module 1: 0.06/9 rad in all.
    assert 2 * found.allowed_angle == pytest.approx(0.06e-3 / 9e-3)


def test_what_is_missing_is_asked_for() -> None:
    with pytest.raises(BudgetError, match="backlash"):
        gear_condition(entry(backlash=None), 0)
    with pytest.raises(BudgetError, match="teeth and module"):
        gear_condition(entry(replace(MOVING, teeth=None)), 0)
