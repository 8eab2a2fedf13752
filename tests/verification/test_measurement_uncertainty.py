"""Uncertainty, statistics and robot figures against published worked examples.

Sources beside each test; "computed" means from the stated formula, outside this package.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest

from handfast.standards.capability import capability, outside_one_side, outside_two_sided
from handfast.standards.interval import wilson
from handfast.standards.robot_repeatability import (
    pose_figures,
    repeatability_from_sigma,
    sigma_from_repeatability,
)
from handfast.uncertainty.coverage_factor import coverage_factor
from handfast.uncertainty.gum import Quantity, propagate
from handfast.uncertainty.stack_up import root_sum_squares, worst_case
from handfast.uncertainty.truncated import rectangular_sigma

MM = 1e-3


def end_gauge(x: Sequence[float]) -> float:
    """JCGM 100:2008 equation H.3: length in nm from l_S, d, alpha_S, theta, delta_alpha, delta_theta."""
    standard, difference, expansion, temperature, d_expansion, d_temperature = x
    return standard + difference - standard * (d_expansion * temperature + expansion * d_temperature)


def test_gum_h1_end_gauge() -> None:
    # JCGM 100:2008, H.1 (looked up and computed).
    found = propagate(
        end_gauge,
        [
            Quantity(50.000623e6, 25.0, 18),
            Quantity(215.0, 9.7, 25.6),
            Quantity(11.5e-6, 1.2e-6),
            Quantity(-0.1, 0.41),
            Quantity(0.0, 0.58e-6, 50),
            Quantity(0.0, 0.029, 2),
        ],
    )
    assert found.value == pytest.approx(50.000838e6, abs=0.5)
    assert round(found.uncertainty) == 32
    assert math.floor(found.freedom) == 16
    assert round(found.expanded(0.99)) == 93
    assert round(found.second_order) == 34
    # H.1.3.5 to H.1.3.6: 2.9 nm from the bars' difference in expansion, 16.6 nm from that in temperature.
    assert found.contributions[2:] == pytest.approx((0.0, 0.0, 2.9, 16.6), abs=0.1)


@pytest.mark.parametrize(
    ("freedom", "at_95", "at_99"),
    [
        (1, 12.71, 63.66),
        (2, 4.30, 9.92),
        (5, 2.57, 4.03),
        (10, 2.23, 3.17),
        (16, 2.12, 2.92),
        (50, 2.01, 2.68),
    ],
)
def test_student_factors_of_gum_table_g2(freedom: int, at_95: float, at_99: float) -> None:
    # JCGM 100:2008, table G.2 (from memory), two decimals.
    assert coverage_factor(0.95, freedom) == pytest.approx(at_95, abs=5.1e-3)
    assert coverage_factor(0.99, freedom) == pytest.approx(at_99, abs=5.1e-3)


def test_student_factor_for_infinite_freedom_is_the_normal_one() -> None:
    assert coverage_factor(0.95, math.inf) == pytest.approx(1.960, abs=5e-4)
    assert coverage_factor(0.95, 50_000) == pytest.approx(coverage_factor(0.95, math.inf), abs=1e-4)


@pytest.mark.parametrize("seed", [1])
def test_jcgm_101_sums_of_four(seed: int) -> None:
    # JCGM 101:2008, 9.2.2: four N(0,1), u 2.00, 95 % +-3.92; 9.2.3: four rectangles of unit deviation,
    # +-3.88.
    inputs = [Quantity(0.0, 1.0)] * 4
    assert propagate(sum, inputs).uncertainty == pytest.approx(2.00, abs=5e-3)
    assert propagate(sum, inputs).expanded(0.95) == pytest.approx(3.92, abs=5e-3)
    generator = np.random.default_rng(seed)
    half = math.sqrt(3.0)
    assert rectangular_sigma(half) == pytest.approx(1.0)
    draws = 1_000_000
    totals = generator.uniform(-half, half, (draws, 4)).sum(axis=1)
    assert totals.std() == pytest.approx(propagate(sum, inputs).uncertainty, abs=4 * 2 / math.sqrt(2 * draws))
    # Three standard errors of a 97.5 % quantile of a million draws are 0.013.
    assert np.quantile(totals, [0.025, 0.975]) == pytest.approx([-3.88, 3.88], abs=0.013 + 0.005)


def test_stack_up_examples() -> None:
    # Computed from the two rules.
    five = (0.05, 0.10, 0.02, 0.10, 0.03)
    assert worst_case(five) == pytest.approx(0.300)
    assert root_sum_squares(five) == pytest.approx(0.1543, abs=5e-5)
    # Slot 60+-0.15 for three parts of 19.9+-0.05.
    slot, signs = (0.15, 0.05, 0.05, 0.05), (1.0, -1.0, -1.0, -1.0)
    assert root_sum_squares(slot, signs) == pytest.approx(0.1732, abs=5e-5)
    assert worst_case(slot, signs) == pytest.approx(0.30)


@pytest.mark.parametrize(
    ("cp", "ppm", "last_digit"), [(1.0, 2699.8, 0.1), (4 / 3, 63.34, 0.01), (5 / 3, 0.573, 0.001)]
)
def test_capability_two_sided(cp: float, ppm: float, last_digit: float) -> None:
    # Common handbook table (looked up and computed).
    assert 1e6 * outside_two_sided(cp) == pytest.approx(ppm, abs=0.5 * last_digit)


def test_capability_one_sided_and_indices() -> None:
    assert 1e6 * outside_one_side(1.0) == pytest.approx(1349.9, abs=0.05)
    assert capability(-3.0, 3.0, 1.0, 1.0) == pytest.approx((1.0, 2 / 3))


def test_iso_9283_example_of_five_poses() -> None:
    # Computed from ISO 9283's definitions; positions in mm.
    attained = [
        (100.02, 49.99, 200.01),
        (100.00, 50.01, 199.98),
        (99.97, 50.02, 200.00),
        (100.01, 49.97, 200.03),
        (100.05, 50.01, 199.98),
    ]
    found = pose_figures([[x * MM for x in row] for row in attained], [100 * MM, 50 * MM, 200 * MM])
    assert found.accuracy / MM == pytest.approx(0.0100, abs=5e-5)
    assert found.repeatability / MM == pytest.approx(0.0744, abs=5e-5)


def test_repeatability_of_a_data_sheet_per_axis() -> None:
    # Computed: RP = 3.616 sigma; a data-sheet 0.03 mm is about 8 um on each axis.
    assert repeatability_from_sigma(1.0) == pytest.approx(3.616, abs=5e-4)
    assert sigma_from_repeatability(0.03 * MM) == pytest.approx(8.3e-6, abs=0.05e-6)


def test_repeatability_factor_against_sampling() -> None:
    # The measuring rule of ISO 9283 on 400 000 drawn positions; its own sampling error is about 0.15 %.
    drawn = np.random.default_rng(9283).normal(0.0, 1.0, (400_000, 3))
    found = pose_figures(drawn.tolist(), [0.0, 0.0, 0.0])
    assert found.repeatability == pytest.approx(repeatability_from_sigma(1.0), rel=0.005)


@pytest.mark.parametrize(
    ("successes", "trials", "low", "high"),
    [(10, 10, 72.2, 100.0), (50, 50, 92.9, 100.0), (45, 50, 78.6, 95.7), (300, 300, 98.7, 100.0)],
)
def test_wilson_intervals(successes: int, trials: int, low: float, high: float) -> None:
    # Computed from Wilson (1927).
    assert [100 * end for end in wilson(successes, trials)] == pytest.approx([low, high], abs=0.05)
