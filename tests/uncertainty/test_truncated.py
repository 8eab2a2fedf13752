from __future__ import annotations

import math

import numpy as np
import pytest

from handfast.uncertainty.truncated import (
    TruncatedNormal,
    draw_truncated,
    rectangular_sigma,
    triangular_sigma,
    truncated_moments,
)


@pytest.mark.parametrize(("mean", "low", "high"), [(0.0, -3.0, 3.0), (0.0, -1.0, 1.0), (1.5, -1.0, 2.0)])
def test_draws_stay_inside_and_follow_the_moments(mean: float, low: float, high: float) -> None:
    part = TruncatedNormal(mean, 1.0, low, high)
    count = 200_000
    drawn = draw_truncated(part, np.random.default_rng(3), count)
    assert drawn.min() >= low
    assert drawn.max() <= high
    expected_mean, expected_sigma = truncated_moments(part)
    assert abs(drawn.mean() - expected_mean) < 3 * expected_sigma / math.sqrt(count)
    assert abs(drawn.std() - expected_sigma) < 3 * expected_sigma / math.sqrt(2 * count)


def test_moments_of_a_normal_cut_at_one_sigma() -> None:
    # Johnson, Kotz and Balakrishnan (1994): variance 1 - 2 phi(1)/(2 Phi(1) - 1) = 0.291125 (computed).
    mean, sigma = truncated_moments(TruncatedNormal(0.0, 1.0, -1.0, 1.0))
    assert mean == pytest.approx(0.0, abs=1e-15)
    assert sigma**2 == pytest.approx(0.291125, abs=5e-7)


def test_limits_of_the_moments() -> None:
    wide = truncated_moments(TruncatedNormal(2.0, 0.1, -math.inf, math.inf))
    assert wide == pytest.approx((2.0, 0.1))
    half = truncated_moments(TruncatedNormal(0.0, 1.0, 0.0, math.inf))
    assert half == pytest.approx((math.sqrt(2 / math.pi), math.sqrt(1 - 2 / math.pi)))  # half-normal
    flat = truncated_moments(TruncatedNormal(0.0, 100.0, -1.0, 1.0))
    assert flat[1] == pytest.approx(rectangular_sigma(1.0), rel=1e-4)


def test_standard_deviations_of_simple_shapes() -> None:
    # JCGM 100:2008, 4.3.7 and 4.3.9.
    assert rectangular_sigma(3.0) == pytest.approx(math.sqrt(3.0))
    assert triangular_sigma(6.0) == pytest.approx(math.sqrt(6.0))


def test_refuses_limits_that_contradict_the_distribution() -> None:
    with pytest.raises(ValueError, match="low < high"):
        TruncatedNormal(0.0, 1.0, 1.0, 1.0)
    with pytest.raises(ValueError, match="sigma > 0"):
        TruncatedNormal(0.0, -1.0, 0.0, 1.0)
    with pytest.raises(ValueError, match="shift the mean"):
        TruncatedNormal(10.0, 1.0, 0.0, 1.0)
