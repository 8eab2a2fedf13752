"""Margin ratio: the allowed error over three sigma. It is no Cpk: nothing was measured."""

from __future__ import annotations

import math


def margin_ratio(allowed: float, sigma: float, bias: float = 0.0) -> float:
    """(allowed - |bias|)/(3 sigma), all in one unit; infinite for sigma zero with room left.

    Raises ValueError for a negative sigma or allowed error.
    """
    if not (sigma >= 0.0 and allowed >= 0.0):
        raise ValueError(f"margin ratio: expected allowed >= 0 and sigma >= 0, found {allowed} and {sigma}")
    room = allowed - abs(bias)
    if sigma == 0.0:
        return math.copysign(math.inf, room) if room else 0.0
    return room / (3.0 * sigma)
