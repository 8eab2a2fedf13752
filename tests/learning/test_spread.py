"""Intervals of sigmas and slopes hold as often as they say."""

from __future__ import annotations

import numpy as np
import pytest

from handfast.learning.spread import pooled, slope, spread
from handfast.standards.interval import wilson


def test_the_interval_of_a_sigma_is_the_handbooks() -> None:
    """NIST/SEMATECH e-Handbook 7.2.3.1's form with table values (from memory): 20 readings, chi-square of 19
    freedoms 8.907 and 32.852 at 2.5 and 97.5 %; Wilson and Hilferty's approximation is good to 0.5 %."""
    found = spread(1.0, 19, 20)
    assert found.interval == pytest.approx(((19 / 32.852) ** 0.5, (19 / 8.907) ** 0.5), rel=5e-3)


@pytest.mark.parametrize("seed", [20265, 12])
def test_intervals_hold_as_often_as_they_say(seed: int) -> None:
    """95 %: of 1000 the share lies in Wilson's 99.9 % interval about what was counted."""
    rng = np.random.default_rng(seed)
    held, drifts = 0, 0
    for _ in range(1000):
        groups = [rng.normal(rng.normal(), 0.02, n).tolist() for n in (12, 9)]
        found = pooled(groups)
        assert found is not None
        held += found.interval[0] <= 0.02 <= found.interval[1]
        times = np.arange(60) * 5.0
        rise, half = slope(times.tolist(), (0.001 * times + rng.normal(0, 0.2, 60)).tolist())
        drifts += abs(rise - 0.001) <= half
    for count in (held, drifts):
        low, high = wilson(count, 1000, 0.999)
        assert low <= 0.95 <= high


def test_groups_of_one_say_nothing() -> None:
    assert pooled([[1.0], [2.0]]) is None
    found = pooled([[1.0], [2.0, 4.0]])
    assert found is not None
    assert found.sigma == pytest.approx(2**0.5)
    assert (found.freedoms, found.count) == (1, 2)
    with pytest.raises(ValueError, match="three readings"):
        slope([0.0, 1.0], [0.0, 1.0])
