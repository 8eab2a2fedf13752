"""Process capability: the share of a normal process outside its limits for Cp and Cpk.

Source: definitions of ISO 22514-2 (from memory); the shares follow from the normal distribution.
"""

from __future__ import annotations

import math


def outside_one_side(cpk: float) -> float:
    """Share of a normal process beyond the nearer limit, which lies 3 `cpk` sigma away."""
    return 0.5 * math.erfc(3.0 * cpk / math.sqrt(2.0))


def outside_two_sided(cp: float) -> float:
    """Share of a centred normal process outside two limits that lie 3 `cp` sigma away."""
    return 2.0 * outside_one_side(cp)


def capability(lower: float, upper: float, mean: float, sigma: float) -> tuple[float, float]:
    """Cp and Cpk of a process with `mean` and `sigma` between limits `lower` and `upper` (same unit).

    Raises ValueError unless lower < upper and sigma > 0.
    """
    if not (lower < upper and sigma > 0.0):
        raise ValueError(f"capability: expected lower < upper and sigma > 0, found {lower}, {upper}, {sigma}")
    cp = (upper - lower) / (6.0 * sigma)
    return cp, min(upper - mean, mean - lower) / (3.0 * sigma)
