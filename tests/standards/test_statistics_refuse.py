from __future__ import annotations

import pytest

from handfast.standards.capability import capability
from handfast.standards.interval import wilson
from handfast.standards.robot_repeatability import pose_figures, sigma_from_repeatability
from handfast.standards.threads import coarse_thread
from handfast.standards.tightening import preload_from_torque, tightening_torque


def test_wilson_refuses_impossible_counts() -> None:
    for successes, trials in ((11, 10), (-1, 10), (0, 0)):
        with pytest.raises(ValueError, match="0 <= successes <= trials"):
            wilson(successes, trials)


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
