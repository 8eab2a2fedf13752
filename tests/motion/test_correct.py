"""Corrected motions: shifted in world at the end by the correction, at the beginning by what went before."""

from __future__ import annotations

import numpy as np
import pytest

from handfast.kinematics.forward import forward
from handfast.model.motion import Motion
from handfast.motion.correct import CorrectionError, corrected
from handfast.motion.line import between, waypoints
from handfast.motion.timing import at, timed
from handfast.spatial import se3

from .arms import READY, Array, first_fit

CHAIN = first_fit()
SHIFT = se3.exp(np.array([0.003, -0.002, 0.001, 0.002, -0.001, 0.003]))


def down(length: float = 0.05) -> Motion:
    """A line straight down at 20 mm/s."""
    T = forward(CHAIN, READY)[0]
    q = waypoints(CHAIN, between(T, se3.translation(0, 0, -length) @ T), READY)
    assert q is not None
    return timed(CHAIN, q, "line", np.full(len(q) - 1, 0.05))


def ends(motion: Motion) -> Array:
    return forward(CHAIN, np.array(motion.q)[[0, -1]])


def test_the_whole_motion_is_shifted_in_world() -> None:
    before = down()
    after = corrected(CHAIN, before, SHIFT)
    np.testing.assert_allclose(ends(after), SHIFT @ ends(before), atol=1e-9)
    hand = forward(CHAIN, at(after, np.linspace(0, after.duration, 2000)))[:, :3, 3]
    a, b = (SHIFT @ ends(before))[:, :3, 3]
    way = (b - a) / np.linalg.norm(b - a)
    aside = np.linalg.norm((hand - a) - np.outer((hand - a) @ way, way), axis=1)
    assert aside.max() < 1.5e-5  # still straight: corners cut by 1e-5 rad at up to 0.9 m, and the sagitta


def test_it_begins_where_the_motion_before_it_ended() -> None:
    before = down()
    after = corrected(CHAIN, before, SHIFT, np.eye(4))
    np.testing.assert_allclose(ends(after)[0], ends(before)[0], atol=1e-9)
    np.testing.assert_allclose(ends(after)[1], SHIFT @ ends(before)[1], atol=1e-9)
    np.testing.assert_allclose(after.q[0], before.q[0], atol=1e-9)  # on the same branch
    other = se3.exp(np.array([0.0, 0.002, 0.0, 0.0, 0.0, -0.002]))
    np.testing.assert_allclose(
        ends(corrected(CHAIN, before, SHIFT, other))[0], other @ ends(before)[0], atol=1e-9
    )


def test_in_between_the_shift_grows_with_time() -> None:
    before = down()
    after = corrected(CHAIN, before, se3.translation(0.004, 0, 0), np.eye(4))
    t, q = np.array(before.t), np.array(before.q)
    moved = forward(CHAIN, np.array(after.q))[:, :3, 3]
    for share in (0.25, 0.5, 0.75):
        i = int(np.abs(t - share * t[-1]).argmin())
        wanted = forward(CHAIN, q[i])[0, :3, 3] + [0.004 * t[i] / t[-1], 0, 0]
        assert np.linalg.norm(moved - wanted, axis=1).min() < 1.5e-4  # a knot lies within 0.15 mm of it


def test_a_corrected_motion_is_no_faster() -> None:
    before = down()
    for start in (None, np.eye(4)):
        after = corrected(CHAIN, before, SHIFT, start)
        assert after.duration >= before.duration
        assert after.path == before.path
        assert (np.abs(np.array(after.v)) <= CHAIN.velocity * (1 + 1e-9)).all()


def test_no_correction_leaves_the_motion_where_it_was() -> None:
    before = down()
    after = corrected(CHAIN, before, np.eye(4))
    np.testing.assert_allclose(ends(after), ends(before), atol=1e-9)


def test_a_correction_out_of_reach_is_refused() -> None:
    with pytest.raises(CorrectionError, match="arm 'left' cannot follow"):
        corrected(CHAIN, down(), se3.translation(0, 2.0, 0))


def test_a_free_motion_whose_knots_lie_far_apart_is_corrected_too() -> None:
    """A search from the last knot would lose the branch between its few knots."""
    far = np.array([0.06, 1.66, -1.49, 2.38, -0.63, -0.75])
    before = timed(CHAIN, np.array([READY, far]), "free")
    assert np.abs(np.diff(np.array(before.q), axis=0)).max() > 1.5  # [rad] between neighbouring knots
    after = corrected(CHAIN, before, SHIFT, np.eye(4))
    np.testing.assert_allclose(ends(after)[0], ends(before)[0], atol=1e-9)
    np.testing.assert_allclose(ends(after)[1], SHIFT @ ends(before)[1], atol=1e-9)
    assert np.abs(np.array(after.q[-1]) - far).max() < 0.05  # on the branch it was planned on
