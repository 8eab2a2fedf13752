from __future__ import annotations

import pytest
from scipy.stats import binomtest  # type: ignore[import-untyped]  # it ships no types

from handfast.standards.capability import capability
from handfast.standards.interval import exact, wilson
from handfast.standards.robot_repeatability import pose_figures, sigma_from_repeatability
from handfast.standards.threads import coarse_thread
from handfast.standards.tightening import preload_from_torque, tightening_torque


def test_intervals_refuse_impossible_counts() -> None:
    for successes, trials in ((11, 10), (-1, 10), (0, 0)):
        for interval in (wilson, exact):
            with pytest.raises(ValueError, match="0 <= successes <= trials"):
                interval(successes, trials)


def test_wilson_covers_the_true_share_as_often_as_it_says() -> None:
    # Exact coverage by summing binomial probabilities (Brown, Cai and DasGupta 2001: near the nominal level).
    from math import comb

    share, trials = 0.3, 60
    covered = sum(
        comb(trials, k) * share**k * (1 - share) ** (trials - k)
        for k in range(trials + 1)
        if wilson(k, trials)[0] <= share <= wilson(k, trials)[1]
    )
    assert 0.93 < covered < 0.97


def test_close_to_one_only_the_exact_interval_covers_as_often_as_it_says() -> None:
    # Coverage by summing binomial probabilities, 43 tries of a share of 0.999 at 98.3 %: what the agreement
    # of a ledger with its trials comes down to.
    from math import comb

    share, trials, level = 0.999, 43, 1 - 0.05 / 3
    chance = [comb(trials, k) * share**k * (1 - share) ** (trials - k) for k in range(trials + 1)]
    covered = {
        interval: sum(p for k, p in enumerate(chance) if interval(k, trials, level)[0] <= share)
        - sum(p for k, p in enumerate(chance) if interval(k, trials, level)[1] < share)
        for interval in (wilson, exact)
    }
    assert covered[exact] >= level
    assert covered[wilson] < 0.96


@pytest.mark.parametrize(("successes", "trials"), [(0, 12), (1, 7), (42, 43), (45, 50), (299, 300), (9, 9)])
@pytest.mark.parametrize("level", [0.9, 0.95, 0.996])
def test_exact_interval_is_that_of_the_beta_quantiles(successes: int, trials: int, level: float) -> None:
    # scipy.stats.binomtest, method "exact".

    other = binomtest(successes, trials).proportion_ci(level, method="exact")
    assert exact(successes, trials, level) == pytest.approx((other.low, other.high), abs=1e-9)


def test_capability_and_repeatability_refuse_nonsense() -> None:
    with pytest.raises(ValueError, match="lower < upper"):
        capability(1.0, 0.0, 0.5, 0.1)
    with pytest.raises(ValueError, match="two or more"):
        pose_figures([[0.0, 0.0, 0.0]], [0.0, 0.0, 0.0])
    with pytest.raises(ValueError, match="zero or more"):
        sigma_from_repeatability(-1e-5)


def test_torque_and_preload_are_each_other_s_inverse() -> None:
    thread = coarse_thread("M4")
    torque = tightening_torque(3000.0, thread, 0.1, 0.14, 5.5e-3)
    assert preload_from_torque(torque, thread, 0.1, 0.14, 5.5e-3) == pytest.approx(3000.0)
    with pytest.raises(ValueError, match=r"0 <= mu < 1"):
        tightening_torque(3000.0, thread, 12.0, 0.14, 5.5e-3)
