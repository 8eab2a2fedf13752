"""Coverage factors: the two-sided quantile of Student's t for whole degrees of freedom.

The t distribution has a finite trigonometric series for whole degrees of freedom (Abramowitz and Stegun,
Handbook of Mathematical Functions, 26.7.3 and 26.7.4); the GUM truncates the effective degrees of freedom to
whole numbers (JCGM 100:2008, G.4.1), so nothing else is needed.
"""

from __future__ import annotations

import math
from statistics import NormalDist

# From here on the t distribution is normal to four digits of the factor.
_NORMAL_FROM = 100_000


def coverage_factor(confidence: float, freedom: float) -> float:
    """Factor k with P(|t| <= k) = `confidence` for `freedom` degrees, truncated to whole ones; infinite means
    normal.

    Raises ValueError unless 0 < confidence < 1 and freedom >= 1.
    """
    if not (0.0 < confidence < 1.0 and freedom >= 1.0):
        raise ValueError(
            f"coverage factor: expected confidence in (0, 1) and 1 degree of freedom or more, "
            f"found {confidence} and {freedom}"
        )
    if freedom >= _NORMAL_FROM:
        return NormalDist().inv_cdf(0.5 + 0.5 * confidence)
    whole, low, high = math.floor(freedom), 0.0, math.pi / 2
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _within(middle, whole) < confidence else (low, middle)
    return math.tan(0.5 * (low + high)) * math.sqrt(whole)


def _within(theta: float, freedom: int) -> float:
    """P(|t| <= sqrt(freedom) tan theta): Abramowitz and Stegun 26.7.3 (odd) and 26.7.4 (even)."""
    sin, cos = math.sin(theta), math.cos(theta)
    odd = freedom % 2 == 1
    term = sin * cos if odd else sin
    total = 0.0
    for k in range((freedom - 1) // 2 if odd else freedom // 2):
        total += term
        term *= cos * cos * ((2 * k + 2) / (2 * k + 3) if odd else (2 * k + 1) / (2 * k + 2))
    return 2.0 / math.pi * (theta + total) if odd else total
