"""Confidence interval of a proportion from a count, after Wilson.

Source: E. B. Wilson, Probable inference, the law of succession, and statistical inference, J. Amer. Statist.
Assoc. 22 (1927) 209-212; the score interval without continuity correction.
"""

from __future__ import annotations

import math
from statistics import NormalDist


def wilson(successes: int, trials: int, confidence: float = 0.95) -> tuple[float, float]:
    """Lower and upper end of the two-sided Wilson interval for `successes` out of `trials`.

    Raises ValueError unless 0 <= successes <= trials, trials > 0 and 0 < confidence < 1.
    """
    if not (trials > 0 and 0 <= successes <= trials and 0.0 < confidence < 1.0):
        raise ValueError(
            f"Wilson interval: expected 0 <= successes <= trials, trials > 0 and confidence in (0, 1), "
            f"found {successes} of {trials} at {confidence}"
        )
    z2 = NormalDist().inv_cdf(0.5 + 0.5 * confidence) ** 2
    share = successes / trials
    centre = share + z2 / (2.0 * trials)
    half = math.sqrt(z2 * (share * (1.0 - share) / trials + z2 / (4.0 * trials**2)))
    scale = 1.0 + z2 / trials
    # The ends are exact at 0 and 1; rounding must not carry them past.
    return max(0.0, (centre - half) / scale), min(1.0, (centre + half) / scale)
