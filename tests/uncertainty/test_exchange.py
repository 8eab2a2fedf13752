"""Choosing readings together, against the weighted least squares solution and against trying every set."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from numpy.typing import NDArray

from handfast.uncertainty.exchange import Joint, exchange

Array = NDArray[np.float64]


def random_joint(rng: np.random.Generator, n: int, c: int) -> tuple[Joint, Array]:
    root = rng.normal(size=(n, n))
    P, H = root @ root.T + 0.1 * np.eye(n), rng.normal(size=(c, n))
    return Joint(P, P @ H.T, H @ P @ H.T, rng.uniform(0.01, 0.2, c)), H


def trace(P: Array) -> Array:
    return np.asarray(np.trace(P, axis1=1, axis2=2))


def test_what_is_left_is_what_weighted_least_squares_leaves() -> None:
    """(P^-1 + H^T R^-1 H)^-1, Kay, Estimation Theory (1993), theorem 10.3 (from memory); a touch made twice
    counts twice."""
    rng = np.random.default_rng(1)
    for _ in range(50):
        joint, H = random_joint(rng, 4, 9)
        chosen = (0, 5, 5, 2)
        rows, weight = H[list(chosen)], np.diag(1 / joint.noise[list(chosen)])
        expected = np.linalg.inv(np.linalg.inv(joint.P) + rows.T @ weight @ rows)
        np.testing.assert_allclose(joint.given(chosen).P, expected, rtol=1e-8, atol=1e-10)
        np.testing.assert_allclose(joint.given(chosen[:3]).one_more()[2], expected, rtol=1e-8, atol=1e-10)


def test_no_set_is_better_by_much_and_most_often_none_at_all() -> None:
    rng, exact = np.random.default_rng(2), 0
    for _ in range(40):
        joint, _ = random_joint(rng, 5, 8)
        sets = list(itertools.combinations_with_replacement(range(8), 3))
        best = min(float(trace(joint.given(s).P[None])[0]) for s in sets)
        _, found = exchange(joint, trace, 3, rng)
        assert found >= best * (1 - 1e-9)
        assert found <= 1.1 * best
        exact += found <= best * (1 + 1e-9)
    assert exact >= 36


def test_one_at_a_time_is_myopic_where_two_readings_only_help_together() -> None:
    """a + b and a - b tell a together; each alone is blurred by b. A direct but coarse reading of a
    looks better.
    """
    P = np.diag([1.0, 100.0])
    H = np.array([[1.0, 1.0], [1.0, -1.0], [1.0, 0.0]])
    joint = Joint(P, P @ H.T, H @ P @ H.T, np.array([1e-4, 1e-4, 0.5]))

    def of_a(left: Array) -> Array:
        return np.asarray(left[:, 0, 0])

    first = int(np.argmin(of_a(joint.one_more())))
    assert first == 2
    chosen, cost = exchange(joint, of_a, 2, np.random.default_rng(0))
    assert sorted(chosen) == [0, 1]
    assert cost < 1e-3


def test_what_is_required_stays_and_what_would_read_the_same_is_not_read_again() -> None:
    rng = np.random.default_rng(4)
    joint, _ = random_joint(rng, 4, 6)
    quiet = Joint(joint.P, joint.C, joint.S + np.diag(joint.noise), np.zeros(6))
    chosen, _ = exchange(quiet, trace, 4, rng, required=(3,))
    assert chosen[0] == 3
    assert len(set(chosen)) == 4
    # One candidate tells all there is; the other tells nothing, and is still better than the first again.
    P, H = np.diag([1.0, 0.0]), np.array([[1.0, 0.0], [0.0, 1.0]])
    told = Joint(P, P @ H.T, H @ np.diag([1.0, 4.0]) @ H.T, np.zeros(2))
    assert sorted(exchange(told, trace, 2, rng)[0]) == [0, 1]


def test_more_required_than_asked_for_is_refused() -> None:
    joint, _ = random_joint(np.random.default_rng(5), 3, 4)
    with pytest.raises(ValueError, match="expected 1 of 4 candidates, 2 of them required"):
        exchange(joint, trace, 1, np.random.default_rng(0), required=(0, 1))
