"""What a sensor tells of a state, as a straight line where the state is thought to be.

Every kind of sensing offers one method, `linearised`; `update` needs nothing else. Linear sensing is the
same line everywhere. Statistical linearisation fits the line over the spread of the state with sigma
points, so that a curved reading counts its own curvature as noise. Source: A. F. Garcia-Fernandez, L.
Svensson, M. R. Morelande, S. Sarkka, Posterior linearisation filter, IEEE Trans. Signal Processing 63
(2015) 5561-5573 (from memory); the points are those of the spherical-radial cubature rule of degree three
(Arasaratnam and Haykin 2009, from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class Line:
    """reading = H @ state + offset + noise. H (m, n), offset (m,), noise: covariance (m, m)."""

    H: Array
    offset: Array
    noise: Array


class Sensing(Protocol):
    """Anything that can say how a reading depends on the state near a mean."""

    def linearised(self, mean: Array, covariance: Array) -> Line:
        """The line for a state of mean (n,) and covariance (n, n)."""
        ...


@dataclass(frozen=True, eq=False, slots=True)
class LinearSensing:
    """reading = H @ state + offset + noise everywhere. H (m, n), offset (m,), noise (m, m)."""

    H: Array
    offset: Array
    noise: Array

    def linearised(self, mean: Array, covariance: Array) -> Line:
        """The same line whatever the state."""
        return Line(self.H, self.offset, self.noise)


@dataclass(frozen=True, eq=False, slots=True)
class CurvedSensing:
    """reading = function(state) + noise. function: (n,) -> (m,); noise: covariance (m, m)."""

    function: Callable[[Array], Array]
    noise: Array

    def linearised(self, mean: Array, covariance: Array) -> Line:
        """The line of least squares over the spread, with what it leaves over added to the noise."""
        return fitted_line(
            lambda states: np.array([self.function(s) for s in states]), mean, covariance, self.noise
        )


def fitted_line(function: Callable[[Array], Array], mean: Array, covariance: Array, noise: Array) -> Line:
    """The line of least squares of a function (k, n) -> (k, m) over a spread; noise (m, m), left-over
    added.
    """
    n = len(mean)
    root = _square_root(covariance) * np.sqrt(n)
    steps = np.concatenate([root.T, -root.T])
    values = function(mean + steps)
    centre = values.mean(axis=0)
    cross = steps.T @ (values - centre) / (2 * n)
    # Metres and radians stand in one matrix: solve with the unit diagonal.
    scale = np.sqrt(np.maximum(np.diag(covariance), np.finfo(float).tiny))
    scaled = covariance / np.outer(scale, scale)
    H = (np.linalg.lstsq(scaled, cross / scale[:, None], rcond=None)[0] / scale[:, None]).T
    spread = (values - centre).T @ (values - centre) / (2 * n)
    left_over = spread - H @ covariance @ H.T
    return Line(H, centre - H @ mean, noise + 0.5 * (left_over + left_over.T))


def _square_root(covariance: Array) -> Array:
    variances, axes = np.linalg.eigh(covariance)
    return np.asarray(axes * np.sqrt(np.maximum(variances, 0.0)))
