"""Timed motions: textbook times, limits at every moment, the formula between knots, how far corners are
cut."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from handfast.motion.timing import at, timed

from .arms import READY, Array, first_fit, one_joint, pieces

LIMIT = 1 + 1e-9


@pytest.mark.parametrize(
    ("way", "seconds"),
    # T = D/v + v/a if D >= v^2/a, else 2 sqrt(D/a): any text on motion control; here v = 1, a = 2.
    [(1.0, 1.5), (0.2, 0.632456), (0.5, 1.0), (-1.0, 1.5)],
)
def test_a_single_way_takes_the_time_of_the_trapezoid(way: float, seconds: float) -> None:
    motion = timed(one_joint(1.0, 2.0), np.array([[0.0], [way]]), "free")
    assert motion.duration == pytest.approx(seconds, abs=1e-6)


def test_a_least_time_is_kept() -> None:
    motion = timed(one_joint(1.0, 2.0), np.array([[0.0], [1.0]]), "line", np.array([4.0]))
    # At 1/4 rad/s throughout, but for one ramp at either end: 4 s and v/a.
    assert motion.duration == pytest.approx(4.0 + 0.25 / 2.0)
    assert np.abs(np.array(motion.v)).max() == pytest.approx(0.25)


def drawn_path(seed: int, count: int) -> Array:
    return READY + np.cumsum(np.random.default_rng(seed).uniform(-0.4, 0.4, (count, 6)), axis=0)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("kind", ["free", "line"])
def test_speeds_and_accelerations_stay_within_the_limits(seed: int, kind: str) -> None:
    chain = first_fit()
    motion = timed(chain, drawn_path(seed, 8), kind)  # type: ignore[arg-type]
    t, q, v = pieces(motion)
    assert t[0] == 0
    assert (np.diff(t) > 0).all()
    assert (np.abs(v) <= chain.velocity * LIMIT).all()
    assert (np.abs(np.diff(v, axis=0)) <= chain.acceleration * np.diff(t)[:, None] * LIMIT).all()
    np.testing.assert_array_equal(v[[0, -1]], 0)
    # Constant acceleration between knots: each step is the mean speed times its time.
    np.testing.assert_allclose(np.diff(q, axis=0), (v[1:] + v[:-1]) / 2 * np.diff(t)[:, None], atol=1e-12)
    assert np.abs(v / chain.velocity).max() > 0.5  # and they are used


@pytest.mark.parametrize(("kind", "corner"), [("free", 0.02), ("line", 1e-5)])
def test_corners_are_cut_by_no_more_than_is_said(kind: str, corner: float) -> None:
    path = drawn_path(1, 8)
    motion = timed(first_fit(), path, kind)  # type: ignore[arg-type]
    dense = at(motion, np.linspace(0, motion.duration, 20000))
    off = off_polyline(dense, path)
    assert off.max() <= corner * LIMIT
    assert off.max() > corner / 10  # corners are rounded, not stopped at
    np.testing.assert_allclose(dense[[0, -1]], path[[0, -1]], atol=1e-12)


def off_polyline(points: Array, path: Array) -> Array:
    """Distance of each point (m, n) from the polyline (k, n) [rad]."""
    best = np.full(len(points), np.inf)
    for a, b in pairwise(path):
        share = np.clip((points - a) @ (b - a) / ((b - a) @ (b - a)), 0, 1)[:, None]
        best = np.minimum(best, np.linalg.norm(points - a - share * (b - a), axis=1))
    return best


def test_values_in_between_are_those_of_the_formula() -> None:
    """Integrated from the speeds by fine steps (trapezoids), which is exact where the acceleration is
    constant."""
    motion = timed(first_fit(), drawn_path(2, 5), "free")
    t, q, v = pieces(motion)
    times = np.union1d(np.linspace(0, motion.duration, 1001), t)
    speed = np.stack([np.interp(times, t, v[:, j]) for j in range(6)], axis=1)
    steps = (speed[1:] + speed[:-1]) / 2 * np.diff(times)[:, None]
    np.testing.assert_allclose(
        at(motion, times), q[0] + np.vstack([np.zeros(6), np.cumsum(steps, axis=0)]), atol=1e-9
    )


def test_a_motion_is_held_at_its_ends() -> None:
    motion = timed(first_fit(), drawn_path(3, 4), "free")
    ends = np.array(motion.q)[[0, -1]]
    np.testing.assert_allclose(at(motion, np.array([-1.0, motion.duration + 1.0])), ends, atol=1e-12)
    np.testing.assert_allclose(at(motion, 0.0), ends[:1], atol=1e-12)
