"""Probability that a Gaussian error in the plane falls within a disc.

In the principal axes the inner integral along the larger axis is an error function; the outer one, along the
smaller axis, is done by Gauss-Legendre with 24 nodes after y = R sin t, which takes the square root's end
points away.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_NODES = 24
_GAUSS = np.polynomial.legendre.leggauss(_NODES)
_RULE = [(float(x), float(w)) for x, w in zip(*np.polynomial.legendre.leggauss(_NODES), strict=True)]
# Beyond this many sigma nothing is left that double precision would show.
_TAIL = 8.5


def disc_probability(covariance: Array, radius: float, mean: Array | None = None) -> float:
    """P(|x| <= radius) for x of `mean` (2,), zero if None, and `covariance` (2, 2), in one unit throughout.

    Raises ValueError for a negative radius or a covariance that is not symmetric positive semi-definite.
    """
    if not radius >= 0.0:
        raise ValueError(f"disc probability: expected a radius of zero or more, found {radius}")
    variances, axes = principal_axes(np.asarray(covariance, float))
    centre = np.zeros(2) if mean is None else axes.T @ np.asarray(mean, float)
    small, large = float(np.sqrt(variances[0])), float(np.sqrt(variances[1]))
    offset_small, offset_large = float(centre[0]), float(centre[1])
    if large == 0.0:
        return float(math.hypot(offset_small, offset_large) <= radius)
    if small <= 1e-12 * large:
        return _slice(offset_small, radius, offset_large, large)
    return _integrate(small, large, offset_small, offset_large, radius)


def principal_axes(covariance: Array) -> tuple[Array, Array]:
    """Variances (n,), smallest first, and axes (n, n) of a covariance; raises ValueError if it is none."""
    if covariance.ndim != 2 or covariance.shape[0] != covariance.shape[1]:
        raise ValueError(f"covariance: expected a square matrix, found shape {covariance.shape}")
    scale = float(np.abs(covariance).max(initial=0.0))
    if not np.isfinite(scale) or np.abs(covariance - covariance.T).max(initial=0.0) > 1e-9 * scale:
        raise ValueError(f"covariance: expected a finite symmetric matrix, found {covariance.tolist()}")
    variances, axes = np.linalg.eigh(covariance)
    if variances[0] < -1e-9 * scale:
        raise ValueError(f"covariance: expected no negative variance, found {variances[0]:.3g} on one axis")
    return np.maximum(variances, 0.0), axes


def _integrate(small: float, large: float, offset_small: float, offset_large: float, radius: float) -> float:
    low = max(-1.0, min(1.0, (offset_small - _TAIL * small) / radius)) if radius > 0.0 else 0.0
    high = max(-1.0, min(1.0, (offset_small + _TAIL * small) / radius)) if radius > 0.0 else 0.0
    start, end = math.asin(low), math.asin(high)
    total = 0.0
    for node, weight in _RULE:
        t = 0.5 * (start + end) + 0.5 * (end - start) * node
        y = radius * math.sin(t)
        density = math.exp(-0.5 * ((y - offset_small) / small) ** 2) / (small * math.sqrt(2.0 * math.pi))
        total += weight * density * radius * math.cos(t) * _slice(y, radius, offset_large, large)
    return min(1.0, 0.5 * (end - start) * total)


def _slice(y: float, radius: float, offset: float, sigma: float) -> float:
    """P(|x| <= sqrt(radius^2 - y^2)) for x ~ N(offset, sigma^2)."""
    if abs(y) > radius:
        return 0.0
    half, root = math.sqrt(radius * radius - y * y), sigma * math.sqrt(2.0)
    return 0.5 * (math.erf((half - offset) / root) + math.erf((half + offset) / root))
