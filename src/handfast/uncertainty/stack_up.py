"""One-dimensional tolerance stack-up: worst case and root sum of squares.

Source: common practice; the root sum of squares is the law of propagation (JCGM 100:2008, 5.1.2) for
independent contributors whose tolerances are the same number of sigma.
"""

from __future__ import annotations

import math
from collections.abc import Sequence


def worst_case(tolerances: Sequence[float], sensitivities: Sequence[float] | None = None) -> float:
    """Sum of |sensitivity| tolerance over the contributors (half widths, one unit)."""
    return sum(_weighted(tolerances, sensitivities))


def root_sum_squares(tolerances: Sequence[float], sensitivities: Sequence[float] | None = None) -> float:
    """Root of the sum of (sensitivity tolerance)^2 over the contributors (half widths, one unit)."""
    return math.hypot(*_weighted(tolerances, sensitivities))


def _weighted(tolerances: Sequence[float], sensitivities: Sequence[float] | None) -> list[float]:
    factors = [1.0] * len(tolerances) if sensitivities is None else list(sensitivities)
    if len(factors) != len(tolerances):
        raise ValueError(f"stack-up: {len(tolerances)} tolerances but {len(factors)} sensitivities")
    for tolerance in tolerances:
        if not tolerance >= 0.0:
            raise ValueError(f"stack-up: expected half widths of zero or more, found {tolerance}")
    return [abs(factor) * tolerance for factor, tolerance in zip(factors, tolerances, strict=True)]
