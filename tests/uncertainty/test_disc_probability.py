from __future__ import annotations

import math

import numpy as np
import pytest

from handfast.uncertainty.disc_probability import disc_probability, principal_axes


@pytest.mark.parametrize("ratio", [0.1, 0.5, 1.0, 2.0, 4.0])
def test_round_errors_follow_the_rayleigh_distribution(ratio: float) -> None:
    # Closed form 1 - exp(-R^2/(2 sigma^2)).
    found = disc_probability(np.eye(2) * 4.0, 2.0 * ratio)
    assert found == pytest.approx(1 - math.exp(-0.5 * ratio**2), abs=6e-7)


def test_half_of_round_errors_lie_within_1_1774_sigma() -> None:
    # Circular error probable, any ballistics handbook (from memory).
    assert disc_probability(np.eye(2), 1.17741) == pytest.approx(0.5, abs=2e-6)


@pytest.mark.parametrize("offset", [0.0, 0.7, 1.0, 2.0, 4.0])
def test_offset_round_errors_follow_the_rice_distribution(offset: float) -> None:
    # Non-central chi-square in its Poisson series, written out here:
    # P = sum over k of Poisson(offset^2/2; k) P(chi^2 with 2 k + 2 freedoms <= 1).
    half = 0.5 * offset**2
    total = 0.0
    for k in range(60):
        tail = sum(0.5**j / math.factorial(j) for j in range(k + 1))
        total += math.exp(-half) * half**k / math.factorial(k) * (1 - math.exp(-0.5) * tail)
    angle = 0.9
    mean = offset * np.array([math.cos(angle), math.sin(angle)])
    assert disc_probability(np.eye(2), 1.0, mean) == pytest.approx(total, abs=6e-7)


@pytest.mark.parametrize(
    ("major", "minor", "turn", "radius", "mean"),
    [
        (1.0, 0.3, 0.4, 1.0, (0.0, 0.0)),
        (1.0, 0.02, 1.1, 0.8, (0.2, -0.1)),
        (0.5, 0.4, 2.0, 1.5, (1.0, 0.3)),
        (3.0, 1.0, 0.0, 0.5, (0.5, 0.0)),
    ],
)
def test_long_ellipses_agree_with_sampling(
    major: float, minor: float, turn: float, radius: float, mean: tuple[float, float]
) -> None:
    axes = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    covariance = axes @ np.diag([major**2, minor**2]) @ axes.T
    found = disc_probability(covariance, radius, np.array(mean))
    count = 400_000
    drawn = np.random.default_rng(31).multivariate_normal(mean, covariance, count)
    share = float(np.mean(np.hypot(drawn[:, 0], drawn[:, 1]) <= radius))
    assert abs(found - share) < 3 * math.sqrt(share * (1 - share) / count)


@pytest.mark.parametrize(("minor", "offset"), [(0.5, 0.0), (0.05, 0.3), (0.9, 1.2)])
def test_quadrature_error_is_below_a_millionth(minor: float, offset: float) -> None:
    # A plain midpoint sum over the disc in polar coordinates, 4000 x 2000 cells.
    r = (np.arange(2000) + 0.5) / 2000
    t = (np.arange(4000) + 0.5) / 4000 * 2 * math.pi
    x, y = np.outer(r, np.cos(t)) - offset, np.outer(r, np.sin(t)) - 0.1
    density = np.exp(-0.5 * (x**2 + (y / minor) ** 2)) / (2 * math.pi * minor)
    total = float((density * r[:, None]).sum() * (1 / 2000) * (2 * math.pi / 4000))
    found = disc_probability(np.diag([1.0, minor**2]), 1.0, np.array([offset, 0.1]))
    assert found == pytest.approx(total, abs=1.2e-6)


def test_flat_and_point_errors() -> None:
    flat = np.diag([1.0, 0.0])
    assert disc_probability(flat, 1.0) == pytest.approx(math.erf(1 / math.sqrt(2)))
    assert disc_probability(flat, 1.0, np.array([0.0, 1.1])) == 0.0
    assert disc_probability(np.zeros((2, 2)), 1.0, np.array([0.9, 0.0])) == 1.0
    assert disc_probability(np.zeros((2, 2)), 1.0, np.array([1.1, 0.0])) == 0.0
    assert disc_probability(np.eye(2), 0.0) == 0.0


def test_refuses_what_is_no_covariance() -> None:
    with pytest.raises(ValueError, match="no negative variance"):
        disc_probability(np.diag([1.0, -0.1]), 1.0)
    with pytest.raises(ValueError, match="symmetric"):
        disc_probability(np.array([[1.0, 0.5], [0.0, 1.0]]), 1.0)
    with pytest.raises(ValueError, match="symmetric"):
        disc_probability(np.array([[np.nan, 0.0], [0.0, 1.0]]), 1.0)
    with pytest.raises(ValueError, match="square"):
        principal_axes(np.ones((2, 3)))
    with pytest.raises(ValueError, match="zero or more"):
        disc_probability(np.eye(2), -1.0)
