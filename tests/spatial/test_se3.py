"""SE(3) against two other libraries: scipy's rotations; pinocchio's exp6 and log6, also translation first."""

from __future__ import annotations

import numpy as np
import pinocchio as pin
import pytest
from numpy.typing import NDArray
from scipy.linalg import expm  # type: ignore[import-untyped]  # it ships no types
from scipy.spatial.transform import Rotation  # type: ignore[import-untyped]  # it ships no types

from handfast.spatial import se3
from handfast.spatial.pose import Pose

Array = NDArray[np.float64]
# From the identity to a half turn, close to both ends, and on both sides of where the series end, at 0.1 rad.
ANGLES = (0.0, 1e-12, 1e-9, 1e-7, 1e-5, 9e-5, 1.1e-4, 1.1e-3, 0.01, 0.0999, 0.1001, 0.3, 1.0, 2.0, 3.0,
          np.pi - 1e-3, np.pi - 1e-6, np.pi - 1e-9)  # fmt: skip


def axes(count: int = 40) -> Array:
    """Unit axes: the coordinate axes both ways, and random ones."""
    random = np.random.default_rng(11).normal(size=(count, 3))
    drawn = random / np.linalg.norm(random, axis=1, keepdims=True)
    return np.vstack([np.eye(3), -np.eye(3), drawn])


def twists(angle: float) -> Array:
    """Twists (m, 6) of that angle [rad] with translations up to about a metre."""
    turn = axes() * angle
    return np.hstack([np.random.default_rng(3).normal(size=turn.shape), turn])


@pytest.mark.parametrize("angle", ANGLES)
def test_rotation_vectors_against_scipy(angle: float) -> None:
    phi = axes() * angle
    reference = Rotation.from_rotvec(phi)
    np.testing.assert_allclose(se3.so3_exp(phi), reference.as_matrix(), rtol=0, atol=2e-15)
    np.testing.assert_allclose(se3.so3_log(reference.as_matrix()), reference.as_rotvec(), rtol=0, atol=1e-12)


@pytest.mark.parametrize("angle", ANGLES)
def test_exp_against_pinocchio_and_the_matrix_exponential(angle: float) -> None:
    for xi, T in zip(twists(angle), se3.exp(twists(angle)), strict=True):
        # That closed form loses up to 1e-13 at a milliradian; the matrix exponential loses nothing there.
        np.testing.assert_allclose(T, pin.exp6(pin.Motion(xi)).homogeneous, rtol=0, atol=1e-12)
        generator = np.zeros((4, 4))
        generator[:3, :3], generator[:3, 3] = se3.hat(xi[3:]), xi[:3]
        np.testing.assert_allclose(T, expm(generator), rtol=0, atol=2e-14)


@pytest.mark.parametrize("angle", [a for a in ANGLES if a < np.pi - 1e-5])
def test_log_against_pinocchio(angle: float) -> None:
    # Nearer to a half turn the other library's log loses digits; there the round trip below is the check.
    for T in se3.exp(twists(angle)):
        np.testing.assert_allclose(se3.log(T), pin.log6(pin.SE3(T)).vector, rtol=0, atol=1e-8)


@pytest.mark.parametrize("angle", ANGLES)
def test_log_undoes_exp(angle: float) -> None:
    xi = twists(angle)
    # A matrix in doubles holds a small angle to about 1e-16, one near a half turn to about 1e-15.
    np.testing.assert_allclose(se3.log(se3.exp(xi)), xi, rtol=0, atol=2e-12)


def test_half_turn_exactly_keeps_the_matrix() -> None:
    # Either sign of the axis is right at pi: compare the rotations.
    for axis in axes():
        R = Rotation.from_rotvec(np.pi * axis).as_matrix()
        phi = se3.so3_log(R)
        assert np.linalg.norm(phi) == pytest.approx(np.pi, abs=1e-9)
        np.testing.assert_allclose(Rotation.from_rotvec(phi).as_matrix(), R, rtol=0, atol=1e-9)


@pytest.mark.parametrize("angle", ANGLES)
def test_quaternions_against_scipy(angle: float) -> None:
    reference = Rotation.from_rotvec(axes() * angle)
    q = se3.quaternion(reference.as_matrix())
    np.testing.assert_allclose(q, reference.as_quat(canonical=True, scalar_first=True), rtol=0, atol=1e-12)
    assert np.all(q[:, 0] >= 0)
    np.testing.assert_allclose(se3.rotation_from_quaternion(q), reference.as_matrix(), rtol=0, atol=1e-14)


def test_fixed_axes_against_scipy() -> None:
    for rx, ry, rz in np.random.default_rng(4).uniform(-np.pi, np.pi, size=(50, 3)):
        reference = Rotation.from_euler("xyz", [rx, ry, rz]).as_matrix()  # lower case: fixed axes, x first
        np.testing.assert_allclose(se3.fixed_xyz(rx, ry, rz)[:3, :3], reference, rtol=0, atol=1e-14)


@pytest.mark.parametrize("angle", ANGLES)
def test_group_laws(angle: float) -> None:
    a, b, c = (se3.exp(x) for x in (twists(angle), twists(1.3)[::-1], twists(2.4)))
    np.testing.assert_allclose((a @ b) @ c, a @ (b @ c), rtol=0, atol=1e-14)
    np.testing.assert_allclose(a @ se3.inverse(a), np.broadcast_to(np.eye(4), a.shape), rtol=0, atol=1e-14)
    np.testing.assert_allclose(se3.inverse(a @ b), se3.inverse(b) @ se3.inverse(a), rtol=0, atol=1e-14)
    np.testing.assert_allclose(se3.exp(-twists(angle)), se3.inverse(a), rtol=0, atol=1e-12)


@pytest.mark.parametrize("angle", ANGLES)
def test_adjoint_against_pinocchio_and_by_its_law(angle: float) -> None:
    T = se3.exp(twists(angle))
    for one in T:
        np.testing.assert_allclose(se3.adjoint(one), pin.SE3(one).toActionMatrix(), rtol=0, atol=1e-14)
    xi = 0.3 * twists(1.0)[::-1]
    moved = (se3.adjoint(T) @ xi[..., None])[..., 0]
    np.testing.assert_allclose(T @ se3.exp(xi) @ se3.inverse(T), se3.exp(moved), rtol=0, atol=1e-12)


def test_twist_is_ordered_translation_then_rotation() -> None:
    np.testing.assert_allclose(se3.exp(np.array([1.0, 2, 3, 0, 0, 0]))[:3, 3], [1, 2, 3])
    quarter = se3.exp(np.array([0, 0, 0, 0, 0, np.pi / 2]))
    np.testing.assert_allclose(quarter[:3, :3] @ [1, 0, 0], [0, 1, 0], rtol=0, atol=1e-15)


def test_functions_broadcast() -> None:
    xi = np.random.default_rng(8).normal(size=(2, 5, 6))
    T = se3.exp(xi)
    assert T.shape == (2, 5, 4, 4)
    np.testing.assert_allclose(T[1, 3], se3.exp(xi[1, 3]), rtol=0, atol=1e-15)
    np.testing.assert_allclose(se3.log(T)[0, 2], se3.log(T[0, 2]), rtol=0, atol=1e-15)
    assert se3.adjoint(T).shape == (2, 5, 6, 6)


def test_distance_between_poses() -> None:
    a = se3.translation(1, 2, 3)
    b = se3.translation(1, 2, 3) @ se3.translation(3, 4, 0) @ se3.rotation(np.array([0.0, 0, 1]), 0.25)
    assert se3.distance(a, b) == pytest.approx((5.0, 0.25))


@pytest.mark.parametrize("angle", ANGLES)
def test_pose_field_keeps_the_matrix(angle: float) -> None:
    for T in se3.exp(twists(angle)):
        pose = Pose.from_matrix(T)
        np.testing.assert_allclose(pose.matrix, T, rtol=0, atol=1e-14)
        assert hash(pose) == hash(Pose.from_matrix(T))
        assert np.linalg.norm(pose.quaternion) == pytest.approx(1, abs=1e-15)
