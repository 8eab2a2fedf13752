"""Labels stay apart, in order, and no further from their places than that needs."""

from __future__ import annotations

import itertools

from hypothesis import given
from hypothesis import strategies as st

from handfast.page.spread_labels import spread

places = st.lists(st.floats(0, 1000), max_size=25).map(sorted)


@given(places, st.floats(0, 40))
def test_apart_and_in_order(wanted: list[float], pitch: float) -> None:
    found = spread(wanted, pitch)
    assert len(found) == len(wanted)
    assert all(b - a >= pitch - 1e-6 for a, b in itertools.pairwise(found))


@given(places, st.floats(0.5, 40), st.integers(0, 24), st.floats(-3, 3))
def test_no_allowed_shift_of_a_tail_comes_nearer(
    wanted: list[float], pitch: float, at: int, shift: float
) -> None:
    """Least squares over a convex set: moving all labels from one on, if allowed, cannot lower the sum."""
    found = spread(wanted, pitch)
    moved = [y + (shift if i >= at else 0.0) for i, y in enumerate(found)]
    allowed = all(b - a >= pitch - 1e-9 for a, b in itertools.pairwise(moved))
    if allowed:
        cost = sum((a - b) ** 2 for a, b in zip(found, wanted, strict=True))
        other = sum((a - b) ** 2 for a, b in zip(moved, wanted, strict=True))
        assert other >= cost - 1e-6 * (1 + cost)


def test_labels_with_room_stay_where_they_are() -> None:
    assert spread([0.0, 30.0, 90.0], 20.0) == [0.0, 30.0, 90.0]


def test_two_that_collide_share_the_way() -> None:
    assert spread([10.0, 10.0], 20.0) == [0.0, 20.0]
