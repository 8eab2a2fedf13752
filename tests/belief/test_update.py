from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from handfast.belief.consistency import chi_square_quantile, mean_square_band, normalised_square
from handfast.belief.covariance import CovarianceError, checked_covariance
from handfast.belief.sensing import CurvedSensing, LinearSensing
from handfast.belief.update import Gaussian, gain, update

Array = NDArray[np.float64]
# Chosen before the first run.
SEEDS = (20260, 7, 4711)
CASES = 500


def random_covariance(rng: np.random.Generator, n: int) -> Array:
    root = rng.normal(size=(n, n))
    scale = np.diag(np.where(np.arange(n) < 3, 1e-3, 1e-2))
    return np.asarray(scale @ (root @ root.T / n + 0.1 * np.eye(n)) @ scale)


def cases(seed: int, n: int, m: int) -> list[tuple[Gaussian, LinearSensing, Array, Array]]:
    """(prior, sensing, truth, reading): truth and noise drawn as the prior and the sensing say."""
    rng = np.random.default_rng(seed)
    out = []
    for _ in range(CASES):
        prior = Gaussian(rng.normal(size=n), random_covariance(rng, n))
        sensing = LinearSensing(
            rng.normal(size=(m, n)), rng.normal(size=m), np.diag(rng.uniform(1e-8, 1e-6, m))
        )
        truth = rng.multivariate_normal(prior.mean, prior.covariance)
        noise = rng.multivariate_normal(np.zeros(m), sensing.noise)
        out.append((prior, sensing, truth, sensing.H @ truth + sensing.offset + noise))
    return out


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(("n", "m"), [(3, 1), (3, 2), (6, 1), (6, 4)])
def test_errors_after_an_update_are_as_large_as_it_says(seed: int, n: int, m: int) -> None:
    squares, surprises = [], []
    for prior, sensing, truth, reading in cases(seed, n, m):
        found = update(prior, sensing, reading)
        squares.append(normalised_square(truth - found.after.mean, found.after.covariance))
        surprises.append(normalised_square(found.surprise, found.surprise_covariance))
    low, high = mean_square_band(n, CASES)
    assert low < np.mean(squares) < high
    low, high = mean_square_band(m, CASES)
    assert low < np.mean(surprises) < high


@pytest.mark.parametrize("seed", SEEDS)
def test_the_band_catches_a_filter_that_trusts_itself_too_much(seed: int) -> None:
    squares = []
    for prior, sensing, truth, reading in cases(seed, 6, 1):
        found = update(prior, sensing, reading)
        squares.append(normalised_square(truth - found.after.mean, 0.8 * found.after.covariance))
    low, high = mean_square_band(6, CASES)
    assert not low < np.mean(squares) < high


def test_the_update_is_the_weighted_least_squares_solution() -> None:
    """Information form (P^-1 + H^T R^-1 H)^-1, Kay, Estimation Theory (1993), theorem 10.3 (from memory)."""
    for prior, sensing, _, reading in cases(3, 6, 4)[:50]:
        found = update(prior, sensing, reading)
        weight = np.linalg.inv(sensing.noise)
        information = np.linalg.inv(prior.covariance) + sensing.H.T @ weight @ sensing.H
        pull = np.linalg.inv(prior.covariance) @ prior.mean + sensing.H.T @ weight @ (
            reading - sensing.offset
        )
        np.testing.assert_allclose(found.after.mean, np.linalg.solve(information, pull), rtol=1e-6)
        scale = np.sqrt(np.outer(*[np.diag(found.after.covariance)] * 2))
        assert (np.abs(found.after.covariance - np.linalg.inv(information)) < 1e-6 * scale).all()


def test_josephs_form_stays_positive_where_the_short_form_does_not() -> None:
    prior = Gaussian(np.zeros(2), np.array([[1.0, 1.0 - 1e-14], [1.0 - 1e-14, 1.0]]))
    sensing = LinearSensing(np.array([[1.0, 0.0]]), np.zeros(1), np.array([[1e-15]]))
    after = update(prior, sensing, np.zeros(1)).after.covariance
    assert np.linalg.eigvalsh(after).min() >= -1e-18
    np.testing.assert_array_equal(after, after.T)


def test_a_bearing_on_a_far_point_is_met_by_iterating() -> None:
    """Range to a known point from a poorly known place: the true posterior by a fine grid says where the
    mean is.
    """
    beacon, sigma = np.array([1.0, 0.0]), 0.01
    prior = Gaussian(np.array([0.0, 0.0]), np.diag([0.09, 0.09]))
    sensing = CurvedSensing(lambda p: np.array([float(np.hypot(*(p - beacon)))]), np.array([[sigma**2]]))
    reading = np.array([0.7])
    x, y = np.meshgrid(np.linspace(-1.5, 1.5, 1501), np.linspace(-1.5, 1.5, 1501), indexing="ij")
    distance = np.hypot(x - beacon[0], y - beacon[1])
    weight = np.exp(-0.5 * ((x**2 + y**2) / 0.09 + ((distance - reading[0]) / sigma) ** 2))
    true_mean = np.array([np.sum(x * weight), np.sum(y * weight)]) / weight.sum()
    once, often = (update(prior, sensing, reading, iterations=k).after for k in (1, 8))
    assert np.linalg.norm(often.mean - true_mean) < 0.5 * np.linalg.norm(once.mean - true_mean)
    spread = np.sum((x - true_mean[0]) ** 2 * weight) / weight.sum()
    assert abs(often.covariance[0, 0] - spread) < abs(once.covariance[0, 0] - spread)
    # Across the line of sight nothing is learned but what the prior knew.
    assert often.covariance[1, 1] == pytest.approx(0.09, rel=0.2)


def test_a_straight_reading_is_the_same_by_sigma_points() -> None:
    prior, sensing, _, reading = cases(1, 6, 2)[0]
    curved = CurvedSensing(lambda x: sensing.H @ x + sensing.offset, sensing.noise)
    a, b = update(prior, sensing, reading), update(prior, curved, reading, iterations=3)
    np.testing.assert_allclose(b.after.mean, a.after.mean, rtol=1e-9)
    np.testing.assert_allclose(b.gain, a.gain, rtol=1e-6)


def test_chi_square_quantiles_of_the_tables() -> None:
    """NIST/SEMATECH e-Handbook, table 1.3.6.7.4 (from memory): upper critical values; 0.1 % for large
    freedoms.
    """
    assert chi_square_quantile(0.95, 1) == pytest.approx(3.841, abs=5e-4)
    assert chi_square_quantile(0.999, 1) == pytest.approx(10.828, abs=5e-4)
    assert chi_square_quantile(0.95, 10) == pytest.approx(18.307, rel=4e-3)
    assert chi_square_quantile(0.95, 100) == pytest.approx(124.342, rel=1e-3)
    assert chi_square_quantile(0.999, 100) == pytest.approx(149.449, rel=1e-3)


@pytest.mark.parametrize(
    ("matrix", "reason"),
    [
        ([[1.0, 0.0], [0.0, -1e-6]], "variance -1e-06 for freedom 1"),
        ([[1.0, 0.5], [0.4, 1.0]], "symmetric"),
        ([[1.0, 2.0], [2.0, 1.0]], "eigenvalue -1"),
        ([[1.0, math.nan], [math.nan, 1.0]], "not finite"),
        ([[1.0, 0.0]], "square"),
        # In metres and radians: correlation above one, though the smallest eigenvalue is only -1e-9.
        ([[1e-8, 1.1e-6], [1.1e-6, 1e-4]], "eigenvalue"),
    ],
)
def test_what_is_no_covariance_is_refused_with_place_and_reason(
    matrix: list[list[float]], reason: str
) -> None:
    with pytest.raises(CovarianceError, match=reason) as refused:
        checked_covariance(matrix, "estimate of 'block'")
    assert refused.value.place == "estimate of 'block'"
    sensing = LinearSensing(np.ones((1, 2)), np.zeros(1), np.eye(1))
    with pytest.raises(CovarianceError, match="prior of an update"):
        update(Gaussian(np.zeros(2), np.array(matrix)), sensing, np.zeros(1))


def test_a_reading_that_cannot_tell_anything_is_refused() -> None:
    with pytest.raises(CovarianceError, match="without any variance"):
        gain(np.eye(2), np.zeros((1, 2)), np.zeros((1, 1)))
    with pytest.raises(CovarianceError, match="repeat each other"):
        gain(np.eye(2), np.array([[1.0, 0.0], [1.0, 0.0]]), np.zeros((2, 2)))
