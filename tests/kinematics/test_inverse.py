"""All branches through a Chain: forward kinematics judges them, an analytic library says which there are."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pinocchio as pin
import pytest
from eaik.IK_HP import HPRobot

from handfast import _kernel
from handfast.kinematics.chain import Chain, load_chain
from handfast.kinematics.forward import forward, kernel_arm
from handfast.kinematics.inverse import beside, follow, inverse
from handfast.spatial import se3

from .urdf import FIRST_FIT, Array, arm, textbook

TURN = 2 * np.pi


@pytest.fixture(params=["first-fit", "textbook"])
def chain(request: pytest.FixtureRequest, tmp_path: Path) -> Chain:
    if request.param == "first-fit":
        return first_fit()
    (tmp_path / "arm.urdf").write_text(textbook())
    return load_chain(arm("arm.urdf", "l7", 6), str(tmp_path))


def first_fit() -> Chain:
    return load_chain(arm("arms/arm.urdf", "flange", 6, root="base"), str(FIRST_FIT))


def near_singular(rng: np.random.Generator, chain: Chain, off: float) -> Array:
    """Random configurations `off` [rad] from a stretched or folded wrist, or elbow (each a singular pose of
    such arms)."""
    q = rng.uniform(chain.lower, chain.upper, (60, chain.n))
    q[:30, 4] = rng.choice([-1, 1], 30) * off
    elbow = (
        0.0 if chain.joints[0] == "joint_1" else np.arctan2(-0.4318, 0.0203)
    )  # of first-fit, of the textbook arm
    q[30:, 2] = elbow + rng.choice([-1, 1], 30) * off
    return np.asarray(np.clip(q, chain.lower, chain.upper))


def same(a: Array, b: Array) -> bool:
    """Equal up to whole turns."""
    off = np.abs(a - b)
    return bool(np.minimum(off % TURN, TURN - off % TURN).max() < 1e-6)


def off_by(chain: Chain, q: Array, T: Array) -> float:
    position, angle = se3.distance(forward(chain, q)[0], T)
    return max(position, angle)


def test_every_branch_reaches_and_the_one_it_came_from_is_there(chain: Chain) -> None:
    q = np.random.default_rng(0).uniform(chain.lower, chain.upper, (300, 6))
    T = forward(chain, q)
    found, valid = inverse(chain, T)
    for i in range(len(q)):
        for branch in found[i, valid[i]]:
            assert off_by(chain, branch, T[i]) < 1e-9
            assert (branch >= chain.lower).all()
            assert (branch <= chain.upper).all()
        assert any(same(q[i], branch) for branch in found[i, valid[i]])


@pytest.mark.parametrize("off", [0.0, 1e-9, 1e-6, 1e-3])
def test_near_singular_poses_are_reached(chain: Chain, off: float) -> None:
    q = near_singular(np.random.default_rng(1), chain, off)
    T = forward(chain, q)
    found, valid = inverse(chain, T, chain.home)
    assert valid.any(axis=1).all()
    for i in range(len(q)):
        assert max(off_by(chain, branch, T[i]) for branch in found[i, valid[i]]) < 1e-9


def test_the_branches_are_those_of_an_analytic_library(chain: Chain) -> None:
    """eaik (Ostermeier, Külz, Althoff 2024), set up from pinocchio's reading of the arm; its answers count if
    they reach."""
    axes, offsets = screws(chain)
    robot = HPRobot(axes, offsets)
    wide = replace(chain, lower=np.full(6, -np.pi - 1e-9), upper=np.full(6, np.pi + 1e-9))
    rng = np.random.default_rng(2)
    q = np.concatenate([rng.uniform(-np.pi, np.pi, (60, 6)), near_singular(rng, wide, 1e-3)])
    compared = 0
    for T in forward(wide, q):
        found, valid = inverse(wide, T[None])
        for theirs in np.asarray(robot.IK(T).Q):
            if np.isfinite(theirs).all() and off_by(wide, theirs, T) < 1e-9:
                compared += 1
                assert any(same(theirs, mine) for mine in found[0, valid[0]])
    assert compared > 300


def screws(chain: Chain) -> tuple[Array, Array]:
    """Axes (6, 3) and the offsets between them (7, 3) at q = 0 in the root frame, the last frame turned to
    the root's."""
    T, axes, points = np.eye(4), [], [np.zeros(3)]
    for placement, axis in zip(chain.placements, chain.axes, strict=True):
        T = T @ placement
        axes.append(T[:3, :3] @ axis)
        points.append(T[:3, 3])
    points.append((T @ chain.tip)[:3, 3])
    return np.array(axes), np.diff(points, axis=0)


def test_of_whole_turns_the_nearest_is_given() -> None:
    chain = first_fit()
    q = np.array([0.3, 0.2, 1.2, 0.4, 0.9, 0.5])
    for turned in (5.0, -5.0):  # joint 6 goes round nearly twice: 0.5 - 2 pi lies within its limits too
        near = np.array([*q[:5], turned])
        found, valid = inverse(chain, forward(chain, q), near)
        branch = found[0, valid[0]][np.abs(found[0, valid[0]][:, :5] - q[:5]).max(axis=1).argmin()]
        assert branch[5] == pytest.approx(0.5 if turned > 0 else 0.5 - TURN, abs=1e-9)


def test_following_stays_on_its_branch_and_agrees_with_the_closed_form(chain: Chain) -> None:
    rng = np.random.default_rng(3)
    compared = 0
    for start in rng.uniform(chain.lower * 0.7, chain.upper * 0.7, (40, 6)):
        way = start + np.linspace(0, 1, 30)[:, None] * rng.uniform(-0.15, 0.15, 6)
        if np.linalg.svd(_kernel.jacobian(kernel_arm(chain), way), compute_uv=False).min() < 0.02:
            continue  # branches meet there: either is as good
        T = forward(chain, way)
        followed = follow(chain, T, start)
        assert followed is not None
        np.testing.assert_allclose(followed, way, atol=1e-7)
        found, valid = inverse(chain, T, start)
        nearest = [
            f[v][np.abs(f[v] - w).max(axis=1).argmin()] for f, v, w in zip(found, valid, way, strict=True)
        ]
        np.testing.assert_allclose(followed, nearest, atol=1e-7)
        compared += 1
    assert compared > 5


def test_what_is_found_beside_a_pose_is_what_newton_finds_there(chain: Chain) -> None:
    """Near singular poses, too, where branches run together and the nearest one may not be the same arm."""
    rng = np.random.default_rng(4)
    q = rng.uniform(chain.lower * 0.9, chain.upper * 0.9, (60, 6))
    q = np.concatenate([q, near_singular(rng, chain, 0.02) * 0.9])
    T = se3.exp(rng.normal(size=(len(q), 6)) * 1e-3) @ forward(chain, q)
    newton = [follow(chain, target[None], near) for target, near in zip(T, q, strict=True)]
    reached = [i for i, found in enumerate(newton) if found is not None]
    found = beside(chain, T[reached], q[reached])
    assert found is not None
    assert len(reached) > 60
    np.testing.assert_allclose(found, [n[0] for n in newton if n is not None], atol=1e-7)
    assert found.min() < -1.0  # each by its own pose: they lie far apart


def test_nothing_is_found_beside_a_pose_out_of_reach() -> None:
    chain = first_fit()
    q = np.array([[0.3, 0.2, 1.2, 0.4, 0.9, 0.5], [0.3, 0.2, 1.2, 0.4, 0.9, 0.6]])
    T = forward(chain, q)
    T[1, 2, 3] += 2.0
    assert beside(chain, T, q) is None


@pytest.mark.parametrize("sign", [1, -1])
def test_following_ends_at_either_joint_limit(sign: int) -> None:
    chain = first_fit()
    start = np.array([sign * 0.3, 0.2, 1.2, 0.4, 0.9, 0.5])
    over = start + np.linspace(0, 1, 40)[:, None] * np.array([sign * 2.7, 0, 0, 0, 0, 0])
    inside = (over[:, 0] > chain.lower[0]) & (over[:, 0] < chain.upper[0])
    assert not inside.all()
    assert follow(chain, forward(chain, over), start) is None
    assert follow(chain, forward(chain, over[inside]), start) is not None


def test_following_ends_out_of_reach() -> None:
    chain = first_fit()
    start = np.array([0.3, 0.2, 1.2, 0.4, 0.9, 0.5])
    away = np.array([se3.translation(0, 0, z) @ forward(chain, start)[0] for z in np.linspace(0, 2, 40)])
    assert follow(chain, away, start) is None


def test_half_a_turn_away_is_not_taken_for_there() -> None:
    """The sine of half a turn is nought: the pose must not count as reached."""
    chain = first_fit()
    start = np.array([0.3, 0.2, 1.2, 0.4, 0.9, 0.5])
    turned = forward(chain, start)[0] @ se3.rotation(np.array([1.0, 0, 0]), np.pi)
    assert follow(chain, turned[None], start) is None


def test_the_screws_given_to_the_library_are_pinocchios() -> None:
    chain = first_fit()
    model = pin.buildModelFromUrdf(str(FIRST_FIT / "arms" / "arm.urdf"))
    data = model.createData()
    pin.computeJointJacobians(model, data, np.zeros(6))
    axes, offsets = screws(chain)
    np.testing.assert_allclose(data.J[3:].T, axes, atol=1e-12)  # angular rows: axes in the root frame
    np.testing.assert_allclose(np.cross(np.cumsum(offsets, axis=0)[:6], axes), data.J[:3].T, atol=1e-12)
