"""Where a fit keeps a shaft, against a general minimiser (scipy) and the lever by hand."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import minimize  # type: ignore[import-untyped]  # it ships no types

from handfast.uncertainty.held_back import Hold, held_back, hold_of

Array = NDArray[np.float64]
UM, MM = 1e-6, 1e-3
LATERAL, ANGULAR = 20e3, 50.0


def springs(off: Array, beyond: float, length: float, angular: float) -> float:
    """Energy [J] of a hand at its grip, written out: sideways there, and tilt."""
    tilt = (off[2:] - off[:2]) / length
    at_grip = off[:2] + tilt * beyond * length
    return float(LATERAL * at_grip @ at_grip + angular * tilt @ tilt) / 2


@pytest.mark.parametrize("off", [5 * UM, 40 * UM, 300 * UM])
@pytest.mark.parametrize("angular", [5.0, 50.0, 500.0])
def test_the_springs_energy_is_least(off: float, angular: float) -> None:
    rng = np.random.default_rng([round(off / UM), round(angular)])
    for _ in range(6):
        beyond, length, radius = rng.uniform(-6, 2), rng.uniform(4, 30) * MM, rng.uniform(3, 30) * UM
        d = rng.standard_normal(4) * off
        d[2:] = d[:2] + rng.standard_normal(2) * rng.choice([5 * UM, 30 * UM])
        hold = hold_of(LATERAL, angular, beyond, length)
        found: Array = held_back(d[:, None], np.array([radius]), hold)[:, 0].astype(np.float64)
        assert max(np.hypot(*found[:2]), np.hypot(*found[2:])) <= radius * (1 + 1e-9)
        scale = springs(-d, beyond, length, angular)
        least = least_energy(d, radius, (beyond, length, angular), found) / scale
        ours = springs(found - d, beyond, length, angular) / scale
        assert ours <= least + 1e-9 + 1e-6 * abs(least)


def least_energy(d: Array, radius: float, hand: tuple[float, float, float], start: Array) -> float:
    """By sequential least squares with both discs as constraints."""
    scale = springs(-d, *hand)
    asked = [{"type": "ineq", "fun": lambda p, i=i: 1 - p[i] ** 2 - p[i + 1] ** 2} for i in (0, 2)]
    found = minimize(
        lambda p: springs(p * radius - d, *hand) / scale, 0.9 * start / radius, constraints=asked,
        method="SLSQP", options={"ftol": 1e-14, "maxiter": 500},
    )  # fmt: skip
    return float(found.fun) * scale


def test_a_grip_far_above_a_short_hole_leans_the_shaft_across_it() -> None:
    """A side force at the grip turns the shaft about the mouth until its end meets the wall across: by the
    lever, as soon as the hand's stiffness against tilting gives way to it."""
    d, radius = np.array([[200 * UM], [0.0], [200 * UM], [0.0]]), np.array([10 * UM])
    soft = held_back(d, radius, hold_of(LATERAL, 1.0, -5.0, 8.5 * MM))
    assert soft[:, 0] == pytest.approx([10 * UM, 0.0, -10 * UM, 0.0], abs=1e-9)
    stiff = held_back(d, radius, hold_of(LATERAL, 1e9, -5.0, 8.5 * MM))
    assert stiff[:, 0] == pytest.approx([10 * UM, 0.0, 10 * UM, 0.0], abs=1e-9)


def test_a_hand_within_the_play_is_left_alone_and_the_mouth_alone_is_a_disc() -> None:
    hold = Hold(2.0, -1.0, 1.0)
    inside = np.array([[3.0], [4.0], [-1.0], [2.0]]) * UM
    assert held_back(inside, np.array([5.1 * UM]), hold) == pytest.approx(inside)
    assert held_back(np.array([[30.0], [40.0]]) * UM, np.array([5 * UM]), None)[:, 0] == pytest.approx(
        [3 * UM, 4 * UM]
    )
