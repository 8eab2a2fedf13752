"""Probability that a Gaussian error in four freedoms meets several disc conditions at once, tails included.

Directional simulation: along each direction of the whitened error the convex region is one interval of
radius, found by solving a quadratic per disc; the chance of the radius falling there is the chi distribution
with four degrees of freedom in closed form. The directions are a fixed low-discrepancy set, so equal
questions give equal answers, and rare failures are as exact as common ones. Source: Ditlevsen, Melchers and
Gluver, General multi-dimensional probability integration by directional simulation, Computers and Structures
36 (1990) 355-368 (from memory); chi-square with four degrees of freedom in closed form.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from handfast.uncertainty.allowed_region import Disc
from handfast.uncertainty.disc_probability import principal_axes

Array = NDArray[np.float64]

DIRECTIONS = 4096
_FREEDOMS = 4
_FAR = 40.0


def region_probability(
    covariance: Array, discs: tuple[Disc, ...], mean: Array | None = None, directions: int = DIRECTIONS
) -> float:
    """P(every disc holds) for an error of `mean` (4,), zero if None, and `covariance` (4, 4).

    Raises ValueError for a covariance that is not symmetric positive semi-definite.
    """
    variances, axes = principal_axes(np.asarray(covariance, float))
    if variances.shape != (_FREEDOMS,):
        raise ValueError(f"region probability: expected a 4 x 4 covariance, found {np.shape(covariance)}")
    spread = axes * np.sqrt(variances)
    centre = np.zeros(_FREEDOMS) if mean is None else np.asarray(mean, float)
    rays = unit_directions(directions) @ spread.T
    near, far = np.zeros(directions), np.full(directions, _FAR)
    for disc in discs:
        rows = np.array(disc.rows)
        start, end = _chord(rays @ rows.T, rows @ centre, disc.radius)
        near, far = np.maximum(near, start), np.minimum(far, end)
    inside = np.where(far > near, _radius_cdf(far) - _radius_cdf(np.minimum(near, far)), 0.0)
    return float(np.clip(inside.mean(), 0.0, 1.0))


@lru_cache(maxsize=4)
def unit_directions(count: int) -> Array:
    """`count` directions (count, 4), evenly spread in the sense of the R-sequence, in opposite pairs.

    Source of the sequence: M. Roberts, The unreasonable effectiveness of quasirandom sequences (2018, from
    memory): steps 1/g, 1/g^2, ... with g the root of g^(k+1) = g + 1; here k = 3 and uniform coordinates on
    the sphere S^3.
    """
    ratio = 1.2207440846057596  # root of g^4 = g + 1
    half = np.arange(1, (count + 1) // 2 + 1, dtype=np.float64)[:, None]
    u = (0.5 + half * np.array([ratio**-1, ratio**-2, ratio**-3])) % 1.0
    # Two circles with squared radii u and 1 - u fill the sphere S^3 uniformly.
    one, other = np.sqrt(u[:, 0]), np.sqrt(1.0 - u[:, 0])
    turn, twist = 2.0 * np.pi * u[:, 1], 2.0 * np.pi * u[:, 2]
    points = np.stack(
        [one * np.cos(turn), one * np.sin(turn), other * np.cos(twist), other * np.sin(twist)], axis=1
    )
    both = np.concatenate([points, -points])[:count]
    both.flags.writeable = False
    return both


def _chord(slope: Array, start: Array, radius: float) -> tuple[Array, Array]:
    """Interval of t with |start + t slope| <= radius; slope (n, 2), start (2,). Empty: (1, 0)."""
    a = np.sum(slope * slope, axis=1)
    b = slope @ start
    c = float(start @ start) - radius * radius
    still = a <= 1e-300
    safe = np.where(still, 1.0, a)
    square = b * b - a * c
    root = np.sqrt(np.maximum(square, 0.0))
    low = np.where(square >= 0.0, (-b - root) / safe, 1.0)
    high = np.where(square >= 0.0, (-b + root) / safe, 0.0)
    reached = c <= 0.0
    return (
        np.where(still, 0.0 if reached else 1.0, low),
        np.where(still, _FAR if reached else 0.0, high),
    )


def _radius_cdf(radius: Array) -> Array:
    """P(chi with 4 degrees of freedom <= radius) = 1 - exp(-r^2/2)(1 + r^2/2)."""
    half = 0.5 * radius * radius
    return np.asarray(-np.expm1(-half) - half * np.exp(-half))
