"""The timing of two hands against a breadth-first search over the same cells, written here."""

from __future__ import annotations

from collections import deque

import numpy as np
import pytest

from handfast.motion.two_hands import closed_before, quickest, with_margin


def by_search(first: list[int], second: list[int], closed: np.ndarray) -> int | None:
    """Least steps from corner to corner, waiting only where the waiting hand stands between two elements."""
    ends_a, ends_b = ({0, *np.cumsum(n).tolist()} for n in (first, second))
    steps, waiting = {(0, 0): 0}, deque([(0, 0)])
    while waiting:
        i, j = waiting.popleft()
        for a, b in ((i + 1, j + 1), (i + 1, j), (i, j + 1)):
            inside = a < closed.shape[0] and b < closed.shape[1] and not closed[a, b]
            allowed = (a > i or i in ends_a) and (b > j or j in ends_b)
            if inside and a > i and b > j:  # together, but not across a closed corner
                allowed = not (closed[i, b] or closed[a, j])
            if inside and allowed and (a, b) not in steps:
                steps[a, b] = steps[i, j] + 1
                waiting.append((a, b))
    return steps.get((closed.shape[0] - 1, closed.shape[1] - 1))


@pytest.mark.parametrize("seed", range(5))
def test_quickest_agrees_with_a_search_of_all_ways(seed: int) -> None:
    rng = np.random.default_rng(seed)
    answers = []
    for _ in range(200):
        first, second = (rng.integers(1, 5, rng.integers(1, 4)).tolist() for _ in range(2))
        closed = rng.random((sum(first) + 1, sum(second) + 1)) < 0.25
        closed[0, 0] = False
        found = quickest(first, second, closed)
        answers.append((found.makespan if found else None, by_search(first, second, closed)))
    assert all(ours == theirs for ours, theirs in answers)
    assert {theirs is None for _, theirs in answers} == {True, False}  # both kinds of answer came up


def test_starts_are_those_of_the_way_found() -> None:
    # The second hand's only element must not begin before the first hand has done both of its own.
    closed = closed_before([3, 2], [4], [(1, 0, True, 2)])
    found = quickest([3, 2], [4], closed)
    assert found is not None
    assert (found.first, found.second, found.makespan) == ((0, 3), (5,), 9)


def test_precedence_the_other_way_round() -> None:
    found = quickest([3, 2], [4], closed_before([3, 2], [4], [(1, 0, False, 4)]))
    assert found is not None
    # The first hand does its first element meanwhile, then waits for the fourth step.
    assert (found.second, found.first[1], found.makespan) == ((0,), 4, 6)


def test_what_waits_for_a_part_of_an_element_begins_when_that_is_done() -> None:
    """One of the two steps of the first hand's last element: the second begins a step sooner, at four."""
    found = quickest([3, 2], [4], closed_before([3, 2], [4], [(1, 0, True, 1)]))
    assert found is not None
    assert (found.second, found.makespan) == ((4,), 8)


def test_nothing_in_the_way_takes_as_long_as_the_longer_hand() -> None:
    found = quickest([5, 5], [3, 3], np.zeros((11, 7), dtype=bool))
    assert found is not None
    assert found.makespan == 10


def test_margin_closes_what_either_hand_could_slip_into() -> None:
    met = np.zeros((9, 9), dtype=bool)
    met[4, 4] = True
    grown = with_margin(met, 2)
    assert grown[4, 2:7].all()
    assert grown[2:7, 4].all()
    assert grown.sum() == 9
    assert not grown[5, 5]
