"""Straight lines of the hand: evenly divided, straight between the waypoints too, refused where the branch
ends."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation, Slerp  # type: ignore[import-untyped]  # it ships no types

from handfast.kinematics.forward import forward, forward_links
from handfast.kinematics.inverse import inverse
from handfast.motion.line import between, waypoints
from handfast.motion.timing import at, timed
from handfast.spatial import se3

from .arms import READY, Array, first_fit


@pytest.mark.parametrize(
    "xi",
    [
        (0.1, 0.05, -0.02, 0, 0, 0),
        (0.01, 0, 0, 0.5, -0.2, 0.9),
        (0, 0, 0, 0.3, 0, 0),
        (0.0004, 0, 0, 0, 0, 0),
    ],
)
def test_poses_between_two_divide_way_and_turn_evenly(xi: tuple[float, ...]) -> None:
    T_a = se3.exp(np.array([0.3, 0.1, 0.2, 1.0, -0.4, 0.3]))
    T_b = T_a @ se3.exp(np.array(xi))
    line = between(T_a, T_b)
    np.testing.assert_allclose(line[[0, -1]], [T_a, T_b], atol=1e-12)
    share = np.linspace(0, 1, len(line))
    np.testing.assert_allclose(line[:, :3, 3], T_a[:3, 3] + share[:, None] * (T_b - T_a)[:3, 3], atol=1e-12)
    even = Slerp([0, 1], Rotation.from_matrix([T_a[:3, :3], T_b[:3, :3]]))(share).as_matrix()
    np.testing.assert_allclose(line[:, :3, :3], even, atol=1e-12)
    assert np.linalg.norm(np.diff(line[:, :3, 3], axis=0), axis=1).max() <= 0.001 + 1e-12
    assert len(line) >= 2


def straight(length: float, direction: tuple[float, float, float] = (0, 0, -1.0)) -> Array:
    """Poses along a straight line from where the arm stands ready."""
    T = forward(first_fit(), READY)[0]
    return between(T, se3.translation(*(length * np.array(direction))) @ T)


@pytest.mark.parametrize("direction", [(0, 0, -1.0), (1.0, 0, 0), (0.6, -0.8, 0)])
def test_a_line_is_straight_between_its_waypoints_too(direction: tuple[float, float, float]) -> None:
    """Between waypoints c = 1 mm apart the hand moves on arcs no tighter than 0.1 m about some axis of the
    arm: sagitta c^2 / 8 r = 1.3 um; corners are cut by 1e-5 rad at up to 0.9 m: 9 um."""
    chain, poses = first_fit(), straight(0.1, direction)
    q = waypoints(chain, poses, READY)
    assert q is not None
    np.testing.assert_allclose(forward(chain, q), poses, atol=1e-9)
    motion = timed(chain, q, "line")
    hand = forward(chain, at(motion, np.linspace(0, motion.duration, 5000)))
    aside = (hand[:, :3, 3] - poses[0, :3, 3]) @ (np.eye(3) - np.outer(direction, direction))
    assert np.linalg.norm(aside, axis=1).max() < 1.1e-5
    assert np.linalg.norm(hand[:, :3, :3] - poses[0, :3, :3], axis=(1, 2)).max() < 5e-5


def test_it_stays_on_the_branch_it_starts_on() -> None:
    chain, poses = first_fit(), straight(0.05)
    found, valid = inverse(chain, poses[:1])
    branches = found[0, valid[0]]
    assert len(branches) >= 4
    followed = [waypoints(chain, poses, start) for start in branches]
    ways = [w for w in followed if w is not None]
    assert len(ways) >= 2
    for start, way in zip(branches, followed, strict=True):
        if way is not None:
            np.testing.assert_allclose(way[0], start, atol=1e-9)
            assert np.abs(np.diff(way, axis=0)).max() < 0.05


def test_a_start_that_does_not_reach_the_first_pose_is_refused() -> None:
    assert waypoints(first_fit(), straight(0.05), READY + 1e-3) is None


def test_a_line_out_of_reach_is_refused() -> None:
    assert waypoints(first_fit(), straight(0.9, (0, 1.0, 0)), READY) is None


def test_a_line_into_a_joint_limit_is_refused() -> None:
    """Round the base axis, the first joint past its 170 deg."""
    chain = first_fit()
    start = READY.copy()
    start[0] = chain.upper[0] - 0.01
    T = forward(chain, start)[0]
    pivot = chain.base @ se3.rotation(np.array([0, 0, 1.0]), 0.002) @ se3.inverse(chain.base)
    turns = [T]
    for _ in range(10):
        turns.append(pivot @ turns[-1])
    assert waypoints(chain, np.array(turns[:4]), start) is not None
    assert waypoints(chain, np.array(turns), start) is None


def test_a_jump_is_refused() -> None:
    """Poses 0.3 rad of the elbow apart are no line: a step that large could be any motion."""
    chain = first_fit()
    near, far = READY + np.array([0, 0, 0.2, 0, 0, 0]), READY + np.array([0, 0, 0.3, 0, 0, 0])
    assert waypoints(chain, forward(chain, np.array([READY, near])), READY) is not None
    assert waypoints(chain, forward(chain, np.array([READY, far])), READY) is None


def test_turning_about_a_stretched_wrist_is_refused_across_joint_5_only() -> None:
    """With joint 5 near zero, turning the hand across joint 5 makes joints 4 and 6 turn by a quarter at
    once."""
    chain = first_fit()
    start = READY.copy()
    start[3:5] = 0.0, 0.001
    wrist = forward_links(chain, start)[0, 5]  # middle of the wrist, y along joint 5
    for axis, possible in ((wrist[:3, 1], True), (wrist[:3, 0], False)):
        turns = [se3.pose(se3.so3_exp(axis * angle), np.zeros(3)) for angle in np.arange(60) * 0.001]
        about = [se3.translation(*wrist[:3, 3]) @ T @ se3.translation(*-wrist[:3, 3]) for T in turns]
        way = waypoints(chain, np.array(about) @ forward(chain, start)[0], start)
        assert (way is not None) == possible
