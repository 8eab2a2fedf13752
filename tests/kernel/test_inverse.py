from __future__ import annotations

import numpy as np
import pytest
from eaik.IK_DH import DhRobot

from handfast import _kernel

from .arms import (
    AXIS_4_ASIDE,
    NO_WRIST,
    OFFSET_SHOULDER,
    SEVEN,
    SLANTED,
    TEXTBOOK,
    THREE_PARALLEL,
    Row,
    chain_of,
    draws,
    kernel_arm,
    random_pose,
    rotated_joints,
)
from .twin import Chain, Floats

CLOSED = {
    "textbook": TEXTBOOK,
    "offset shoulder": OFFSET_SHOULDER,
    "slanted": SLANTED,
    "three parallel": THREE_PARALLEL,
}


def pose_errors(chain: Chain, q: Floats, T: Floats) -> Floats:
    """Larger of position error [m] and rotation angle [rad] of each configuration, by the twin."""
    D = np.linalg.inv(T) @ chain.tip_poses(q)
    w = np.stack([D[:, 2, 1] - D[:, 1, 2], D[:, 0, 2] - D[:, 2, 0], D[:, 1, 0] - D[:, 0, 1]]) / 2
    c = (D[:, 0, 0] + D[:, 1, 1] + D[:, 2, 2] - 1) / 2
    angle = np.arctan2(np.linalg.norm(w, axis=0), c)
    larger: Floats = np.maximum(np.linalg.norm(D[:, :3, 3], axis=1), angle)
    return larger


def same_turn(a: Floats, b: Floats, tolerance: float) -> bool:
    return bool(np.abs((a - b + np.pi) % (2 * np.pi) - np.pi).max() < tolerance)


def eaik_branches(rows: tuple[Row, ...], chain: Chain, T: Floats) -> list[Floats]:
    """Distinct solutions of the oracle, kept by the twin's forward error alone."""
    d, a, alpha = np.array(rows).T
    kept: list[Floats] = []
    for q in np.asarray(DhRobot(alpha, a, d).IK(T).Q):
        good = np.isfinite(q).all() and pose_errors(chain, q[None], T[None])[0] < 1e-7
        if good and not any(same_turn(q, k, 1e-5) for k in kept):
            kept.append(q)
    return kept


@pytest.mark.parametrize("name", CLOSED)
def test_every_branch_reaches_and_the_one_it_came_from_is_among_them(name: str) -> None:
    rng = np.random.default_rng(1)
    chain = rotated_joints(chain_of(CLOSED[name]), rng)
    q = draws(rng, chain, 2000)
    T = chain.tip_poses(q)
    found, valid = _kernel.ik(kernel_arm(chain), T)
    assert found.shape == (2000, 8, 6)
    target, branch = np.nonzero(valid)
    assert pose_errors(chain, found[target, branch], T[target]).max() < 1e-9
    for i in range(len(q)):
        assert any(same_turn(b, q[i], 1e-6) for b in found[i, valid[i]]), f"branch of {q[i]} is missing"
    assert np.isnan(found[~valid]).all()


@pytest.mark.parametrize("name", CLOSED)
def test_branches_are_those_of_an_independent_library(name: str) -> None:
    # eaik (Ostermeier et al.), judged by forward error only: it may also return entries that do not reach.
    rng = np.random.default_rng(2)
    chain = chain_of(CLOSED[name])
    T = chain.tip_poses(draws(rng, chain, 200))
    found, valid = _kernel.ik(kernel_arm(chain), T)
    total = 0
    for i in range(len(T)):
        ours = list(found[i, valid[i]])
        oracle = eaik_branches(CLOSED[name], chain, T[i])
        total += len(oracle)
        assert len(ours) == len(oracle)
        assert all(any(same_turn(o, q, 1e-5) for q in ours) for o in oracle)
    assert total > 2 * len(T)


@pytest.mark.parametrize("bend", [1e-3, 1e-5, 1e-7, 1e-8, 3e-9, 1e-9, 1e-11, 0.0])
@pytest.mark.parametrize("name", CLOSED)
def test_near_a_straight_wrist_every_answer_still_reaches(name: str, bend: float) -> None:
    rng = np.random.default_rng(3)
    chain = chain_of(CLOSED[name])
    q = draws(rng, chain, 100)
    q[:, 4] = straight_wrist(chain) + bend
    T = chain.tip_poses(q)
    found, valid = _kernel.ik(kernel_arm(chain), T)
    target, branch = np.nonzero(valid)
    assert pose_errors(chain, found[target, branch], T[target]).max() < 1e-9
    shoulder = [0, 1, 2] if name != "three parallel" else [0]
    for i in range(len(q)):
        ours = found[i, valid[i]][:, shoulder]
        assert any(same_turn(b, q[i, shoulder], 1e-5) for b in ours)
        for o in eaik_branches(CLOSED[name], chain, T[i]):
            assert any(same_turn(b, o[shoulder], 1e-4) for b in ours)


def straight_wrist(chain: Chain) -> float:
    """The q5 at which axis 6 comes nearest to parallel with axis 4 (for three parallel axes: with those)."""
    q5 = np.linspace(-np.pi, np.pi, 20001)
    q = np.zeros((len(q5), 6))
    q[:, 4] = q5
    z = chain.links(q)[:, :6, :3, 2]
    return float(q5[np.argmax(np.abs(np.einsum("mi,mi->m", z[:, 3], z[:, 5])))])


def test_a_straight_wrist_takes_joint_4_from_the_reference() -> None:
    chain = chain_of(TEXTBOOK)
    q = np.array([[0.3, 0.4, 0.5, 0.7, 0.0, 0.2]])
    near = np.array([0.3, 0.4, 0.5, 0.25, 0.0, 0.6])
    found, valid = _kernel.ik(kernel_arm(chain), chain.tip_poses(q), near)
    gap = np.abs(found[0, valid[0]] - near).max(axis=1).min()
    np.testing.assert_allclose(gap, 0.05, atol=1e-6)  # q4 = 0.25, so q6 = 0.7 + 0.2 - 0.25 = 0.65


def test_a_stretched_elbow_counts_once() -> None:
    chain = chain_of(THREE_PARALLEL)
    q = np.array([[0.3, -0.4, 0.0, 0.7, 0.9, 0.2]])
    found, valid = _kernel.ik(kernel_arm(chain), chain.tip_poses(q))
    reached = found[0, valid[0]]
    assert sum(same_turn(b, q[0], 1e-5) for b in reached) == 1


@pytest.mark.parametrize("name", [*CLOSED, "seven", "no wrist"])
def test_targets_out_of_reach_have_no_branch(name: str) -> None:
    chain = chain_of({**CLOSED, "seven": SEVEN, "no wrist": NO_WRIST}[name])
    T = np.eye(4)
    T[:3, 3] = [2.0, 1.0, 0.5]
    assert not _kernel.ik(kernel_arm(chain), T[None])[1].any()


@pytest.mark.parametrize("name", [*CLOSED, "no wrist"])
def test_whether_and_how_near_there_is_a_branch_is_what_all_branches_say(name: str) -> None:
    rng = np.random.default_rng(8)
    wide = chain_of({**CLOSED, "no wrist": NO_WRIST}[name])
    chain = Chain(wide.placements, wide.axes, wide.tip, wide.base, np.full(6, -2.0), wide.hi)
    arm, near, count = kernel_arm(chain), draws(rng, chain, 1)[0], 400 if name in CLOSED else 20
    T = np.stack([random_pose(rng, 0.8) for _ in range(count)])
    found, valid = _kernel.ik(arm, T, near)
    some = valid.any(axis=1)
    assert 0.1 * count < some.sum() < 0.9 * count
    np.testing.assert_array_equal(_kernel.ik_reaches(arm, T), _kernel.ik(arm, T)[1].any(axis=1))
    turn = np.where(valid, np.abs(found - near).max(axis=-1), np.inf).min(axis=1)
    np.testing.assert_allclose(_kernel.ik_turn(arm, T, near), turn, atol=1e-6)


def test_branches_keep_to_the_limits_and_near_the_reference() -> None:
    rng = np.random.default_rng(5)
    wide = chain_of(OFFSET_SHOULDER, 2 * np.pi)
    chain = Chain(wide.placements, wide.axes, wide.tip, wide.base, np.full(6, -1.8), wide.hi)
    q = draws(rng, chain, 300)
    near = draws(rng, chain, 300)
    found, valid = _kernel.ik(kernel_arm(chain), chain.tip_poses(q), near)
    target, branch = np.nonzero(valid)
    b, n = found[target, branch], near[target]
    assert (b >= chain.lo).all()
    assert (b <= chain.hi).all()
    for turn in (-2 * np.pi, 2 * np.pi):
        other = b + turn
        inside = (other >= chain.lo) & (other <= chain.hi)
        assert not (inside & (np.abs(other - n) < np.abs(b - n) - 1e-9)).any()


@pytest.mark.parametrize(
    ("rows", "name"),
    [
        (TEXTBOOK, "spherical-wrist"),
        (OFFSET_SHOULDER, "spherical-wrist"),
        (SLANTED, "spherical-wrist"),
        (THREE_PARALLEL, "three-parallel"),
        (SEVEN, "numeric"),
        (NO_WRIST, "numeric"),
        (AXIS_4_ASIDE, "numeric"),
    ],
)
def test_structure_is_read_from_the_axes_not_from_the_frames(rows: tuple[Row, ...], name: str) -> None:
    chain = chain_of(rows)
    assert _kernel.structure(kernel_arm(chain)) == name
    assert _kernel.structure(kernel_arm(rotated_joints(chain, np.random.default_rng(6)))) == name


@pytest.mark.parametrize("rows", [SEVEN, NO_WRIST])
def test_arms_without_a_closed_form_are_solved_numerically(rows: tuple[Row, ...]) -> None:
    rng = np.random.default_rng(7)
    chain = chain_of(rows, 2.9)
    T = chain.tip_poses(draws(rng, chain, 200))
    found, valid = _kernel.ik(kernel_arm(chain), T)
    target, branch = np.nonzero(valid)
    b = found[target, branch]
    assert pose_errors(chain, b, T[target]).max() < 1e-9
    assert (np.abs(b) <= 2.9).all()
    assert valid.any(axis=1).mean() > 0.98  # restarts: not every target, but nearly


def test_a_numeric_start_nearby_finds_the_branch_nearby() -> None:
    rng = np.random.default_rng(8)
    chain = chain_of(NO_WRIST)
    q = draws(rng, chain, 50) * 0.8
    for row in q:
        start = row + rng.uniform(-0.02, 0.02, 6)
        found, valid = _kernel.ik_numeric(
            kernel_arm(chain), chain.tip_poses(row[None]), start[None], restarts=0
        )
        assert valid[0, 0]
        assert np.abs(found[0, 0] - row).max() < 0.5


def test_numeric_answers_repeat_with_the_seed() -> None:
    chain = chain_of(SEVEN)
    T = chain.tip_poses(draws(np.random.default_rng(9), chain, 5))
    once, again, other = (_kernel.ik_numeric(kernel_arm(chain), T, seed=s)[0] for s in (4, 4, 5))
    np.testing.assert_array_equal(once, again)
    assert not np.array_equal(once, other, equal_nan=True)


def test_a_half_turn_away_is_still_found() -> None:
    # At half a turn the rotation vector's sine vanishes: its axis must come from elsewhere.
    chain = chain_of(SEVEN)
    start = np.array([[0.4, 0.9, 0.4, 1.4, 0.4, -0.8, 0.4]])
    T = np.tile(chain.tip_poses(start), (3, 1, 1))
    for k in range(3):
        R = random_pose(np.random.default_rng(k), 0)[:3, :3]
        T[k, :3, :3] = T[k, :3, :3] @ R @ np.diag([1, -1, -1]) @ R.T
    found, valid = _kernel.ik_numeric(kernel_arm(chain), T, start)
    assert valid.any(axis=1).all()
    target, branch = np.nonzero(valid)
    assert pose_errors(chain, found[target, branch], T[target]).max() < 1e-9


def test_exactly_half_a_turn_off_is_not_taken_for_reached() -> None:
    # The sine part of such a rotation is exactly zero: read alone it says that nothing is off.
    axes = np.eye(3)[[2, 1, 1, 0, 1, 0]]
    limit = np.full(6, np.pi)
    chain = Chain(np.tile(np.eye(4), (6, 1, 1)), axes, np.eye(4), np.eye(4), -limit, limit)
    chain.placements[1:, 0, 3] = 0.3
    T = chain.tip_poses(np.zeros((1, 6)))
    T[0, :3, :3] = np.diag([1.0, -1.0, -1.0])
    _, valid = _kernel.ik_numeric(kernel_arm(chain), T, np.zeros((1, 6)), restarts=0, iterations=0)
    assert not valid.any()


def test_turns_picks_the_nearest_equivalent_within_limits() -> None:
    lo, hi = np.full(3, -2 * np.pi), np.full(3, 2 * np.pi)
    q, found = _kernel.turns([[0.5, -3.0, 3.0]], lo, hi, [6.0, 3.0, -4.0])
    # 0.5 + 2 pi would be nearer to 6 but lies beyond the limit.
    np.testing.assert_allclose(q, [[0.5, 2 * np.pi - 3, 3 - 2 * np.pi]])
    assert found[0]
    q, found = _kernel.turns([[2.0]], [-1.0], [1.0], [0.0])
    assert not found[0]
    assert q[0, 0] == 2.0


def test_equivalents_are_all_of_them_nearest_first() -> None:
    rng = np.random.default_rng(11)
    lo, hi = np.array([-2 * np.pi, -1.0, -4.0]), np.array([2 * np.pi, 1.0, 4.0])
    q, near = np.array([0.5, 0.3, 3.5]), rng.uniform(lo, hi)
    turns = 2 * np.pi * np.arange(-2, 3)
    every = np.array(np.meshgrid(q[0] + turns, q[1] + turns, q[2] + turns)).reshape(3, -1).T
    every = every[((every >= lo) & (every <= hi)).all(axis=1)]
    every = every[np.argsort(np.linalg.norm(every - near, axis=1))]
    np.testing.assert_allclose(_kernel.equivalents(q, lo, hi, near), every)
    np.testing.assert_allclose(_kernel.equivalents(q, lo, hi, near, most=2), every[:2])
