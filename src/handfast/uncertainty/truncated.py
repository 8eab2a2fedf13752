"""Part variation: normal within limits, because what lies outside was sorted out; lots with a shifted mean.

Moments of the truncated normal in closed form (Johnson, Kotz and Balakrishnan, Continuous Univariate
Distributions, vol. 1, 1994, section 10.1; from memory), draws by drawing again whatever falls outside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Below this chance of a usable draw the limits contradict the distribution: say so instead of looping.
_LEAST_INSIDE = 1e-3


@dataclass(frozen=True, slots=True)
class TruncatedNormal:
    """A normal distribution of `mean` and `sigma`, kept only between `low` and `high` (one unit).

    Raises ValueError unless low < high, sigma > 0 and at least 0.1 % lies inside.
    """

    mean: float
    sigma: float
    low: float
    high: float

    def __post_init__(self) -> None:
        if not (self.low < self.high and self.sigma > 0.0):
            raise ValueError(
                f"truncated normal: expected low < high and sigma > 0, "
                f"found {self.low}, {self.high}, {self.sigma}"
            )
        if self.inside < _LEAST_INSIDE:
            raise ValueError(
                f"truncated normal: mean {self.mean} and sigma {self.sigma} leave under 0.1 % inside "
                f"{self.low} to {self.high}; shift the mean or widen the limits"
            )

    @property
    def inside(self) -> float:
        """Share of the full normal that lies between the limits."""
        return _cdf((self.high - self.mean) / self.sigma) - _cdf((self.low - self.mean) / self.sigma)


def truncated_moments(part: TruncatedNormal) -> tuple[float, float]:
    """Mean and standard deviation of what is left between the limits."""
    a, b = (part.low - part.mean) / part.sigma, (part.high - part.mean) / part.sigma
    first = (_pdf(a) - _pdf(b)) / part.inside
    second = 1.0 + (_weighted(a) - _weighted(b)) / part.inside
    return part.mean + part.sigma * first, part.sigma * math.sqrt(max(second - first * first, 0.0))


def draw_truncated(part: TruncatedNormal, generator: np.random.Generator, count: int) -> Array:
    """`count` draws (count,) between the limits."""
    draws = generator.normal(part.mean, part.sigma, count)
    outside = np.flatnonzero((draws < part.low) | (draws > part.high))
    while outside.size:
        draws[outside] = generator.normal(part.mean, part.sigma, outside.size)
        outside = outside[(draws[outside] < part.low) | (draws[outside] > part.high)]
    return draws


def rectangular_sigma(half_width: float) -> float:
    """Standard deviation of a rectangular distribution of +-`half_width`: a/sqrt(3) (GUM 4.3.7)."""
    return half_width / math.sqrt(3.0)


def triangular_sigma(half_width: float) -> float:
    """Standard deviation of a symmetric triangular distribution of +-`half_width`: a/sqrt(6) (GUM 4.3.9)."""
    return half_width / math.sqrt(6.0)


def _cdf(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def _pdf(z: float) -> float:
    return math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)


def _weighted(z: float) -> float:
    return z * _pdf(z) if math.isfinite(z) else 0.0
