"""Particles where the answer is known otherwise: in closed form, and on a grid of all states."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from handfast.belief.consistency import mean_square_band, normalised_square
from handfast.belief.covariance import CovarianceError
from handfast.belief.particles import COUNT, particles
from handfast.belief.sensing import LinearSensing
from handfast.belief.update import Gaussian, update

Array = NDArray[np.float64]


@pytest.mark.parametrize("freedoms", [1, 3, 6])
def test_of_straight_readings_they_say_what_the_normal_answer_says(freedoms: int) -> None:
    """Closed form: the conditional mean (Bar-Shalom, Li, Kirubarajan 2001, 1.4.14, from memory). The mean of
    s particles errs by sigma/sqrt(s), their sigma by sigma/sqrt(2 s); five of these, for they hang
    together."""
    rng = np.random.default_rng(freedoms)
    root = rng.normal(size=(freedoms, 2 * freedoms))
    prior = Gaussian(rng.normal(size=freedoms), root @ root.T / freedoms)
    H, R = rng.normal(size=(3, freedoms)), np.diag([0.01, 0.02, 0.05])
    reading = H @ prior.mean + rng.normal(size=3)
    wanted = update(prior, LinearSensing(H, np.zeros(3), R), reading).after
    found = particles(prior, lambda s: s @ H.T, R, reading, np.random.default_rng(1)).gaussian()
    sigma = np.sqrt(np.diag(wanted.covariance))
    assert np.abs(found.mean - wanted.mean) / sigma == pytest.approx(0, abs=5 / COUNT**0.5)
    assert np.sqrt(np.diag(found.covariance)) / sigma == pytest.approx(1, abs=5 / (2 * COUNT) ** 0.5)


def corners(states: Array) -> Array:
    """Travel to a face met along x by one of two corners 60 mm apart along y, and of a part turned a little:
    which of the two is first hangs on the turn. States: x [mm], turn [rad]."""
    return np.asarray((states[:, 0] - 30 * np.abs(states[:, 1]))[:, None])


def test_of_two_explanations_both_are_kept_as_often_as_all_states_tried_say() -> None:
    """A reading 6 mm early where x is known to 1 mm: turned by 0.2 rad one way or the other; a little more
    likely the way the prior leans. Against the posterior on a grid of 1201 x 1601 states."""
    prior = Gaussian(np.array([0.0, 0.02]), np.diag([1.0, 0.15**2]))
    reading, noise = np.array([-6.0]), np.array([[0.1**2]])
    found = particles(prior, corners, noise, reading, np.random.default_rng(5))
    x, turn = np.meshgrid(np.linspace(-6, 6, 1201), np.linspace(-0.8, 0.8, 1601), indexing="ij")
    states = np.stack([x.ravel(), turn.ravel()], axis=1)
    off = (states - prior.mean) / np.sqrt(np.diag(prior.covariance))
    weight = np.exp(-0.5 * (off**2).sum(axis=1) - 0.5 * ((reading - corners(states)[:, 0]) / 0.1) ** 2)
    weight /= weight.sum()
    positive = float(weight[states[:, 1] > 0].sum())
    assert 0.55 < positive < 0.85
    share = float((found.states[:, 1] > 0).mean())
    assert share == pytest.approx(positive, abs=5 * (positive * (1 - positive) / COUNT) ** 0.5)
    pairs = ((states[:, 0], found.states[:, 0]), (np.abs(states[:, 1]), np.abs(found.states[:, 1])))
    for every, drawn in pairs:
        mean = float(weight @ every)
        sigma = float(weight @ (every - mean) ** 2) ** 0.5
        assert drawn.mean() == pytest.approx(mean, abs=5 * sigma / COUNT**0.5)
        assert drawn.std() == pytest.approx(sigma, rel=0.1)
    assert found.two_humps() > 0.9


def test_one_hump_is_called_one() -> None:
    rng = np.random.default_rng(3)
    prior = Gaussian(np.zeros(6), np.diag([1.0, 2, 3, 0.1, 0.2, 0.3]) ** 2)
    H = rng.normal(size=(2, 6))
    found = particles(prior, lambda s: s @ H.T, np.eye(2), np.zeros(2), rng)
    # 2/pi for a normal distribution (Otsu's split in the middle).
    assert found.two_humps() == pytest.approx(2 / np.pi, abs=0.05)


@pytest.mark.parametrize("seed", [20261, 11, 4712])
def test_errors_are_as_large_as_they_say_where_corners_change(seed: int) -> None:
    """Three freedoms, three touches by corners; 100 cases a seed, band of 99.9 % (Bar-Shalom, Li, Kirubarajan
    2001, 5.4). Truths are drawn from the prior, so over all cases the normalised squares average to the
    freedoms."""
    rng = np.random.default_rng(seed)
    prior = Gaussian(np.zeros(3), np.diag([1.0, 1.0, 0.05]) ** 2)
    noise = 0.1**2 * np.eye(3)

    def travels(s: Array) -> Array:
        x, y, turn = s.T
        return np.stack([x - 30 * np.abs(turn), y - 20 * np.abs(turn), x + y - 5 * turn], axis=1)

    squares = []
    for _ in range(100):
        truth = rng.multivariate_normal(prior.mean, prior.covariance)
        reading = travels(truth[None])[0] + 0.1 * rng.standard_normal(3)
        after = particles(prior, travels, noise, reading, rng, 1000).gaussian()
        squares.append(normalised_square(truth - after.mean, after.covariance))
    low, high = mean_square_band(3, 100)
    assert low < np.mean(squares) < high


def test_a_freedom_that_cannot_err_stays() -> None:
    prior = Gaussian(np.array([1.0, 2.0]), np.diag([1.0, 0.0]))
    found = particles(prior, lambda s: s[:, :1], np.eye(1), np.array([3.0]), np.random.default_rng(0))
    assert (found.states[:, 1] == 2.0).all()
    assert found.states[:, 0].mean() == pytest.approx(2.0, abs=0.1)


def test_what_is_no_covariance_is_refused() -> None:
    bad = np.array([[1.0, 2.0], [2.0, 1.0]])
    with pytest.raises(CovarianceError, match="prior of particles"):
        particles(Gaussian(np.zeros(2), bad), lambda s: s, np.eye(2), np.zeros(2), np.random.default_rng(0))
    with pytest.raises(CovarianceError, match="noise of a reading"):
        particles(Gaussian(np.zeros(2), np.eye(2)), lambda s: s, bad, np.zeros(2), np.random.default_rng(0))
