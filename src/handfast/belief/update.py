"""What is known of a state after a reading."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.belief.covariance import CovarianceError, checked_covariance
from handfast.belief.sensing import Line, Sensing
from handfast.spatial.se3 import Array

# Share of a reading's variance that is new to the others, below which it only repeats them: rounding.
_REPEATS = 1e-12


@dataclass(frozen=True, eq=False, slots=True)
class Gaussian:
    """mean (n,), covariance (n, n)."""

    mean: Array
    covariance: Array


@dataclass(frozen=True, eq=False, slots=True)
class Updated:
    """after: what is known now; gain (n, m); surprise (m,): reading minus what was expected, and its
    covariance (m, m).
    """

    after: Gaussian
    gain: Array
    surprise: Array
    surprise_covariance: Array


def update(prior: Gaussian, sensing: Sensing, reading: Array, iterations: int = 1) -> Updated:
    """Prior and reading (m,) -> posterior, gain and surprise.

    iterations: how often a curved sensing is linearised anew, each time about the latest posterior and each
    time applied to the prior; one is enough for linear sensing. The covariance is written in Joseph's form,
    which stays symmetric and positive semi-definite for any gain (Bucy and Joseph 1968, from memory).
    Raises CovarianceError for a prior or a noise that is none.
    """
    checked_covariance(prior.covariance, "prior of an update")
    around, result = prior, None
    for _ in range(max(iterations, 1)):
        line = sensing.linearised(around.mean, around.covariance)
        checked_covariance(line.noise, "noise of a reading")
        result = _linear_update(prior, line, np.asarray(reading, dtype=np.float64))
        around = result.after
    if result is None:
        raise AssertionError("at least one iteration runs")
    return result


def gain(covariance: Array, H: Array, noise: Array) -> tuple[Array, Array]:
    """Gain (n, m) of a linear reading and the covariance (m, m) of its surprise: K = P H^T (H P H^T + R)^-1.

    Raises CovarianceError where a reading has no variance at all, or where readings without noise repeat
    each other.
    """
    surprise = H @ covariance @ H.T + noise
    return _solved((H @ covariance).T, surprise), surprise


def gain_of_draws(wanted: Array, readings: Array) -> tuple[Array, Array]:
    """The same for a state made of independent unit draws (c,): wanted (n, c), readings (r, c) from draws.

    Gain (n, r) of the readings for what is wanted, and their covariance (r, r). Raises CovarianceError as
    `gain`.
    """
    surprise = readings @ readings.T
    return _solved(wanted @ readings.T, surprise), np.asarray(surprise)


def _solved(cross: Array, surprise: Array) -> Array:
    """Cross (n, m) @ inverse of surprise (m, m)."""
    if (np.diag(surprise) <= 0).any():
        raise CovarianceError("gain of a reading", "found a reading without any variance")
    # Readings of different kinds differ by orders of magnitude: solve with the unit diagonal.
    scale = 1 / np.sqrt(np.diag(surprise))
    unit = surprise * np.outer(scale, scale)
    # Rounding hides an exact repetition from the solver, which would answer with anything.
    if len(unit) > 1 and np.linalg.eigvalsh(unit)[0] < _REPEATS:
        raise CovarianceError("gain of readings", "found readings without noise that repeat each other")
    solved = np.linalg.solve(unit, (cross * scale).T)
    return np.asarray((solved * scale[:, None]).T)


def _linear_update(prior: Gaussian, line: Line, reading: Array) -> Updated:
    K, surprise_covariance = gain(prior.covariance, line.H, line.noise)
    surprise = reading - line.H @ prior.mean - line.offset
    kept = np.eye(len(prior.mean)) - K @ line.H
    covariance = kept @ prior.covariance @ kept.T + K @ line.noise @ K.T
    after = Gaussian(prior.mean + K @ surprise, 0.5 * (covariance + covariance.T))
    return Updated(after, K, surprise, surprise_covariance)
