"""Confidence intervals of a proportion from a count: Wilson's, and the exact one.

Sources: E. B. Wilson, Probable inference, the law of succession, and statistical inference, J. Amer. Statist.
Assoc. 22 (1927) 209-212; the score interval without continuity correction. C. J. Clopper and E. S. Pearson,
The use of confidence or fiducial limits illustrated in the case of the binomial, Biometrika 26 (1934)
404-413. Close to zero and one Wilson's interval leaves the true share out more often than it says; the exact
one never does (L. D. Brown, T. T. Cai, A. DasGupta, Interval estimation for a binomial proportion, Statist.
Sci. 16 (2001) 101-133; all from memory).
"""

from __future__ import annotations

import math
from statistics import NormalDist


def wilson(successes: int, trials: int, confidence: float = 0.95) -> tuple[float, float]:
    """Lower and upper end of the two-sided Wilson interval for `successes` out of `trials`.

    Raises ValueError unless 0 <= successes <= trials, trials > 0 and 0 < confidence < 1.
    """
    _check(successes, trials, confidence)
    z2 = NormalDist().inv_cdf(0.5 + 0.5 * confidence) ** 2
    share = successes / trials
    centre = share + z2 / (2.0 * trials)
    half = math.sqrt(z2 * (share * (1.0 - share) / trials + z2 / (4.0 * trials**2)))
    scale = 1.0 + z2 / trials
    # The ends are exact at 0 and 1; rounding must not carry them past.
    return max(0.0, (centre - half) / scale), min(1.0, (centre + half) / scale)


def exact(successes: int, trials: int, confidence: float = 0.95) -> tuple[float, float]:
    """Lower and upper end of the two-sided exact (Clopper and Pearson) interval.

    Raises ValueError as `wilson` does.
    """
    _check(successes, trials, confidence)
    tail = 0.5 * (1.0 - confidence)
    low = 0.0 if successes == 0 else 1.0 - _share_with(trials - successes, trials, tail)
    high = 1.0 if successes == trials else _share_with(successes, trials, tail)
    return low, high


def _share_with(successes: int, trials: int, tail: float) -> float:
    """The share at which so few successes or fewer have the chance `tail`, by halving."""
    below, above = successes / trials, 1.0
    for _ in range(60):
        middle = 0.5 * (below + above)
        below, above = (middle, above) if _at_most(successes, trials, middle) > tail else (below, middle)
    return above


def _at_most(successes: int, trials: int, share: float) -> float:
    """P(X <= successes), X binomial."""
    if not 0.0 < share < 1.0:
        return 1.0 if share <= 0.0 else 0.0
    logs = (
        math.lgamma(trials + 1) - math.lgamma(k + 1) - math.lgamma(trials - k + 1)
        + k * math.log(share) + (trials - k) * math.log1p(-share)
        for k in range(successes + 1)
    )  # fmt: skip
    return math.fsum(math.exp(x) for x in logs)


def _check(successes: int, trials: int, confidence: float) -> None:
    if not (trials > 0 and 0 <= successes <= trials and 0.0 < confidence < 1.0):
        raise ValueError(
            f"interval of a share: expected 0 <= successes <= trials, trials > 0 and confidence in (0, 1), "
            f"found {successes} of {trials} at {confidence}"
        )
