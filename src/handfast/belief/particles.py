"""What is known of a state after readings whose answer is no single hump: particles.

Where a turned part may have met its face with one corner or with another, several places explain a reading,
and a mean with a covariance says too little. Particles carry them all. They are led from the prior to the
posterior by letting the readings count little by little: each step as much as leaves half of them telling,
then drawn anew by their weights and shaken by a Metropolis walk that leaves the posterior of that step as it
is. So they do not thin out in six freedoms, as plain weighting does. Source: P. Del Moral, A. Doucet, A.
Jasra, Sequential Monte Carlo samplers, J. Royal Stat. Soc. B 68 (2006) 411-436; the scale of the walk: G.
Roberts, A. Gelman, W. Gilks, Annals of Applied Probability 7 (1997) 110-120 (both from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from handfast.belief.covariance import checked_covariance
from handfast.belief.update import Gaussian
from handfast.spatial.se3 import Array

Expected = Callable[[Array], Array]
"""States (s, n) -> what would be read (s, m)."""
COUNT = 2000
# Steps of the walk after each drawing; best share of the spread for a step, over the root of the freedoms.
_SHAKES, _STEP = 6, 2.38
_LEAST = 1e-9  # of the readings' weight, in a step: then all that is left is taken at once


@dataclass(frozen=True, eq=False, slots=True)
class Particles:
    """States (s, n), each as likely as the others."""

    states: Array

    def gaussian(self) -> Gaussian:
        """Their mean and covariance."""
        return Gaussian(self.states.mean(axis=0), np.atleast_2d(np.cov(self.states.T)))

    def two_humps(self) -> float:
        """How much of the variance along one axis two groups explain, split where they explain most (Otsu
        1979, from memory), at most over the axes tried: 0.64 for one normal hump, 0.75 if spread evenly, near
        one for two humps apart. Axes are compared in units of the states' own spread.
        """
        centred = self.states - self.states.mean(axis=0)
        spread = centred.std(axis=0)
        scaled = centred[:, spread > 0] / spread[spread > 0]
        if not scaled.size:
            return 0.0
        axes = np.vstack([np.linalg.eigh(np.cov(scaled.T, ddof=0).reshape(scaled.shape[1], -1))[1].T,
                          np.eye(scaled.shape[1])])  # fmt: skip
        return max(_split(scaled @ axis) for axis in axes)


def particles(
    prior: Gaussian, expected: Expected, noise: Array, reading: Array, rng: np.random.Generator,
    count: int = COUNT,
) -> Particles:  # fmt: skip
    """The states that explain readings (m,) with noise (m, m), from a normal prior (n,); all readings at
    once.

    Raises CovarianceError for a prior or a noise that is none.
    """
    root = _root(checked_covariance(prior.covariance, "prior of particles"))
    whiten = np.linalg.inv(np.linalg.cholesky(checked_covariance(noise, "noise of a reading")))

    def misfit(free: Array) -> Array:
        off = (reading - expected(prior.mean + free @ root.T)) @ whiten.T
        return np.asarray(0.5 * (off * off).sum(axis=1))

    free = rng.standard_normal((count, root.shape[1]))
    found, counted = misfit(free), 0.0
    while counted < 1:
        step = _next_step(found, 1 - counted)
        counted += step
        free, found = _drawn_anew(free, found, step, rng)
        free, found = _shaken(free, found, misfit, counted, rng)
    return Particles(prior.mean + free @ root.T)


def _root(covariance: Array) -> Array:
    """(n, r): freedoms without any spread have no particle apart."""
    scale = np.sqrt(np.maximum(np.diag(covariance), np.finfo(float).tiny))
    variances, axes = np.linalg.eigh(covariance / np.outer(scale, scale))
    kept = variances > 1e-12 * max(float(variances[-1]), 1e-300)
    return np.asarray(scale[:, None] * axes[:, kept] * np.sqrt(variances[kept]))


def _next_step(misfit: Array, left: float) -> float:
    """The largest part of the readings' weight that leaves half of the particles telling."""

    def telling(step: float) -> float:
        weight = np.exp(-step * (misfit - misfit.min()))
        return float(weight.sum() ** 2 / (weight**2).sum()) / len(misfit)

    if telling(left) >= 0.5:
        return left
    low, high = 0.0, left
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if telling(middle) >= 0.5 else (low, middle)
    return max(low, min(_LEAST, left))


def _drawn_anew(free: Array, misfit: Array, step: float, rng: np.random.Generator) -> tuple[Array, Array]:
    """By weight, evenly: systematic resampling."""
    weight = np.cumsum(np.exp(-step * (misfit - misfit.min())))
    places = (np.arange(len(free)) + rng.random()) / len(free)
    chosen = np.minimum(np.searchsorted(weight / weight[-1], places), len(free) - 1)
    return free[chosen], misfit[chosen]


def _shaken(
    free: Array, misfit: Array, of: Callable[[Array], Array], counted: float, rng: np.random.Generator
) -> tuple[Array, Array]:
    n = free.shape[1]
    if n == 0:
        return free, misfit
    spread = np.linalg.cholesky(np.atleast_2d(np.cov(free.T)) + 1e-12 * np.eye(n))
    for shake in range(_SHAKES):
        # Short steps between long ones: two humps have one wide covariance, and each is narrow.
        size = _STEP / n**0.5 * (1.0, 0.3, 0.1)[shake % 3]
        tried = free + size * rng.standard_normal(free.shape) @ spread.T
        there = of(tried)
        gain = counted * (misfit - there) + 0.5 * (free**2 - tried**2).sum(axis=1)
        goes = np.log(rng.random(len(free))) < gain
        free, misfit = np.where(goes[:, None], tried, free), np.where(goes, there, misfit)
    return free, misfit


def _split(values: Array) -> float:
    """Share of the variance that lies between the two groups of the best split."""
    ordered = np.sort(values - values.mean())
    total = float((ordered**2).sum())
    if total == 0:
        return 0.0
    below = np.arange(1, len(ordered))
    sums = np.cumsum(ordered)[:-1]
    return float((sums**2 * (1 / below + 1 / (len(ordered) - below))).max() / total)
