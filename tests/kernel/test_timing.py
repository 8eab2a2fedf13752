from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from handfast import _kernel

from .twin import Floats

VMAX = np.array([2.0, 1.5, 2.5])
AMAX = np.array([4.0, 6.0, 5.0])


def dense(timing: _kernel.Timing, count: int = 4000) -> tuple[Floats, Floats, Floats]:
    """Times, positions and velocities between the knots by constant acceleration alone."""
    t = np.linspace(0, timing.t[-1], count)
    i = np.clip(np.searchsorted(timing.t, t, side="right") - 1, 0, len(timing.t) - 2)
    a = np.diff(timing.v, axis=0) / np.diff(timing.t)[:, None]
    s = (t - timing.t[i])[:, None]
    return t, timing.q[i] + timing.v[i] * s + a[i] * s**2 / 2, timing.v[i] + a[i] * s


def distance_to_polyline(x: Floats, path: Floats) -> Floats:
    gaps = []
    for p, r in pairwise(path):
        u = r - p
        t = np.clip((x - p) @ u / (u @ u), 0, 1)
        gaps.append(np.linalg.norm(x - p - t[:, None] * u, axis=1))
    nearest: Floats = np.min(gaps, axis=0)
    return nearest


def zigzag(seed: int, k: int = 8) -> Floats:
    return np.random.default_rng(seed).uniform(-1, 1, (k, 3)).cumsum(axis=0)


@pytest.mark.parametrize(("way", "time"), [(1.0, 1.5), (0.2, 0.6325), (0.5, 1.0), (0.01, 0.141421)])
def test_one_segment_takes_the_trapezoids_time(way: float, time: float) -> None:
    # T = D/v + v/a if D >= v^2/a, else 2 sqrt(D/a); v 1, a 2: any text, e.g. Biagiotti & Melchiorri.
    timing = _kernel.time_path([[0.0], [way]], [1.0], [2.0], 0.0)
    assert timing.t[-1] == pytest.approx(time, abs=5e-5)


def test_the_slowest_joint_sets_the_pace_of_a_segment() -> None:
    timing = _kernel.time_path([[0.0, 0.0], [1.0, 0.2]], [1.0, 0.1], [2.0, 2.0], 0.0)
    # Speed is bound by joint 2 (0.2 in 2 s), acceleration by joint 1 (2.0): T = 2 + 0.5 / 2.
    assert timing.t[-1] == pytest.approx(2.25)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("corner", [0.0, 0.01, 0.2])
def test_limits_corner_and_rest_hold_everywhere(seed: int, corner: float) -> None:
    path = zigzag(seed)
    timing = _kernel.time_path(path, VMAX, AMAX, corner)
    dt = np.diff(timing.t)
    assert (dt > 0).all()
    assert (np.abs(timing.v) <= VMAX * (1 + 1e-9)).all()
    assert (np.abs(np.diff(timing.v, axis=0)) / dt[:, None] <= AMAX * (1 + 1e-6)).all()
    np.testing.assert_allclose(
        np.diff(timing.q, axis=0), (timing.v[1:] + timing.v[:-1]) / 2 * dt[:, None], atol=1e-13
    )
    np.testing.assert_array_equal(timing.v[[0, -1]], 0)
    np.testing.assert_allclose(timing.q[[0, -1]], path[[0, -1]], atol=1e-12)
    _, x, v = dense(timing)
    assert (np.abs(v) <= VMAX * (1 + 1e-9)).all()
    assert distance_to_polyline(x, path).max() <= corner + 1e-9
    assert timing.deviation <= corner + 1e-12


@pytest.mark.parametrize("seed", range(5))
def test_waypoints_are_passed_at_the_times_told_within_the_deviation_told(seed: int) -> None:
    path = zigzag(seed)
    timing = _kernel.time_path(path, VMAX, AMAX, 0.05)
    t, x, _ = dense(timing, 20001)
    passed = np.stack([np.interp(timing.at, t, x[:, j]) for j in range(3)], axis=1)
    gaps = np.linalg.norm(passed - path, axis=1)
    assert gaps.max() == pytest.approx(timing.deviation, abs=1e-5)
    assert timing.at[0] == 0
    assert timing.at[-1] == timing.t[-1]
    assert (np.diff(timing.at) > 0).all()


def test_a_corner_of_zero_stops_at_every_corner_and_blends_save_time() -> None:
    path = zigzag(7)
    stop, blend, wide = (_kernel.time_path(path, VMAX, AMAX, c) for c in (0.0, 0.02, 0.2))
    for at in stop.at:
        assert np.abs(stop.v[np.argmin(np.abs(stop.t - at))]).max() < 1e-6
    pieces = [_kernel.time_path(path[i : i + 2], VMAX, AMAX, 0.0).t[-1] for i in range(len(path) - 1)]
    assert stop.t[-1] == pytest.approx(sum(pieces), rel=1e-6)
    assert wide.t[-1] < blend.t[-1] < 0.97 * stop.t[-1]


@pytest.mark.parametrize("count", [2, 3, 7, 50, 1001])
@pytest.mark.parametrize("corner", [0.0, 0.01])
def test_waypoints_along_a_straight_line_change_nothing(count: int, corner: float) -> None:
    ends = np.array([[0.1, -0.3, 0.2], [1.2, 0.4, -0.9]])
    once = _kernel.time_path(ends, VMAX, AMAX, corner)
    many = _kernel.time_path(
        ends[0] + np.linspace(0, 1, count)[:, None] * (ends[1] - ends[0]), VMAX, AMAX, corner
    )
    assert many.t[-1] == pytest.approx(once.t[-1], rel=1e-9)


def test_a_curve_sampled_finely_is_not_slowed_by_its_samples() -> None:
    # A quarter circle of 1 rad radius in joints 1 and 2: twice the samples, nearly the same time, not much
    # more than its length takes along a straight line.
    def quarter(count: int) -> Floats:
        s = np.linspace(0, np.pi / 2, count)
        return np.stack([np.cos(s), np.sin(s)], axis=1)

    times = [_kernel.time_path(quarter(k), [2.0, 2.0], [5.0, 5.0], 0.002).t[-1] for k in (200, 400, 800)]
    assert times[1] == pytest.approx(times[0], rel=0.01)
    assert times[2] == pytest.approx(times[0], rel=0.01)
    straight = _kernel.time_path([[0.0], [np.pi / 2]], [2.0], [5.0], 0.0).t[-1]
    assert straight < times[2] < 1.25 * straight


def test_durations_hold_a_segment_back_and_no_other() -> None:
    path = np.array([[0.0, 0, 0], [1.0, 0, 0], [1.01, 0, 0], [2.0, 0, 0]])
    bound = np.array([0.0, 0.5, 0.0])  # 0.01 rad in 0.5 s: 0.02 rad/s
    free, held = (_kernel.time_path(path, VMAX, AMAX, 0.0, d) for d in (None, bound))
    assert held.at[2] - held.at[1] == pytest.approx(0.5, rel=1e-6)
    _, x, v = dense(held, 40001)
    inside = (x[:, 0] > 1.0) & (x[:, 0] < 1.01)
    assert v[inside, 0].max() <= 0.02 * (1 + 1e-9)
    assert held.at[1] < free.at[1] + 0.5  # the first segment only slows down at its end
    assert free.t[-1] < held.t[-1] - 0.5


def test_repeated_waypoints_are_passed_at_once() -> None:
    path = np.array([[0.0, 0, 0], [0.0, 0, 0], [1.0, 0, 0], [1.0, 0, 0], [1.0, 1, 0]])
    timing = _kernel.time_path(path, VMAX, AMAX, 0.05)
    plain = _kernel.time_path(path[[0, 2, 4]], VMAX, AMAX, 0.05)
    np.testing.assert_array_equal(timing.t, plain.t)
    np.testing.assert_array_equal(timing.at, plain.at[[0, 0, 1, 1, 2]])


def test_a_path_that_goes_nowhere_takes_no_time() -> None:
    for path in ([[0.3, 0.2, 0.1]], [[0.3, 0.2, 0.1]] * 3):
        timing = _kernel.time_path(path, VMAX, AMAX, 0.0)
        np.testing.assert_array_equal(timing.t, [0.0])
        np.testing.assert_array_equal(timing.q, path[:1])
        np.testing.assert_array_equal(timing.v, [[0.0, 0.0, 0.0]])
        np.testing.assert_array_equal(timing.at, np.zeros(len(path)))


def test_turning_back_is_within_limits() -> None:
    path = np.array([[0.0, 0, 0], [1.0, 0.5, 0], [0.2, 0.1, 0]])
    timing = _kernel.time_path(path, VMAX, AMAX, 0.01)
    assert (np.abs(np.diff(timing.v, axis=0)) / np.diff(timing.t)[:, None] <= AMAX * (1 + 1e-6)).all()
    assert distance_to_polyline(dense(timing)[1], path).max() < 1e-9
    assert timing.deviation == pytest.approx(0.01)
