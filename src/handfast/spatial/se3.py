"""SE(3) on 4x4 arrays.

Poses are written `T_world_part` (pose of part in world); chains read left to right. A twist is ordered
translation, then rotation, in the body frame: `T = T_mean @ exp(xi)`. All functions broadcast over leading
dimensions. Formulas: Barfoot, State Estimation for Robotics (2017), chapter 7 (which orders twists the same
way).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_SERIES = 0.1


def hat(v: Array) -> Array:
    """Skew matrix of v. v: (..., 3). Returns (..., 3, 3)."""
    v = np.asarray(v, dtype=np.float64)
    out = np.zeros((*v.shape[:-1], 3, 3))
    out[..., 0, 1], out[..., 0, 2], out[..., 1, 2] = -v[..., 2], v[..., 1], -v[..., 0]
    out[..., 1, 0], out[..., 2, 0], out[..., 2, 1] = v[..., 2], -v[..., 1], v[..., 0]
    return out


def _coefficients(theta: Array) -> tuple[Array, Array, Array]:
    """sin(t)/t, (1-cos t)/t^2, (t-sin t)/t^3, by series below 0.1 rad where the quotients lose digits."""
    small = theta < _SERIES
    t, t2 = np.where(small, 1.0, theta), theta * theta
    near_a = 1 - t2 / 6 * (1 - t2 / 20 * (1 - t2 / 42 * (1 - t2 / 72)))
    near_b = 0.5 - t2 / 24 * (1 - t2 / 30 * (1 - t2 / 56 * (1 - t2 / 90)))
    near_c = 1 / 6 - t2 / 120 * (1 - t2 / 42 * (1 - t2 / 72 * (1 - t2 / 110)))
    a = np.where(small, near_a, np.sin(t) / t)
    b = np.where(small, near_b, (1 - np.cos(t)) / (t * t))
    c = np.where(small, near_c, (t - np.sin(t)) / (t * t * t))
    return a, b, c


def so3_exp(phi: Array) -> Array:
    """Rotation vector [rad], (..., 3) -> rotation matrix (..., 3, 3)."""
    phi = np.asarray(phi, dtype=np.float64)
    a, b, _ = _coefficients(np.linalg.norm(phi, axis=-1))
    k = hat(phi)
    return np.asarray(np.eye(3) + a[..., None, None] * k + b[..., None, None] * (k @ k))


def so3_log(rotation: Array) -> Array:
    """Rotation matrix (..., 3, 3) -> rotation vector [rad] (..., 3), angle in [0, pi].

    Goes through the quaternion, which stays accurate near 0 and near pi.
    """
    q = quaternion(rotation)
    v = q[..., 1:]
    n = np.linalg.norm(v, axis=-1)
    angle = 2 * np.arctan2(n, q[..., 0])
    scale = np.where(n < 1e-12, 2.0, angle / np.where(n < 1e-12, 1.0, n))
    return np.asarray(scale[..., None] * v)


def quaternion(rotation: Array) -> Array:
    """Rotation matrix (..., 3, 3) -> unit quaternion (w, x, y, z), w >= 0, (..., 4)."""
    r = np.asarray(rotation, dtype=np.float64)
    if r.ndim == 2:
        return _one_quaternion(r.tolist())
    m00, m11, m22 = r[..., 0, 0], r[..., 1, 1], r[..., 2, 2]
    # Four formulas, each well conditioned where its own component is the largest.
    cases = np.stack(
        [
            np.stack([1 + m00 + m11 + m22, r[..., 2, 1] - r[..., 1, 2], r[..., 0, 2] - r[..., 2, 0],
                      r[..., 1, 0] - r[..., 0, 1]], -1),
            np.stack([r[..., 2, 1] - r[..., 1, 2], 1 + m00 - m11 - m22, r[..., 1, 0] + r[..., 0, 1],
                      r[..., 0, 2] + r[..., 2, 0]], -1),
            np.stack([r[..., 0, 2] - r[..., 2, 0], r[..., 1, 0] + r[..., 0, 1], 1 - m00 + m11 - m22,
                      r[..., 2, 1] + r[..., 1, 2]], -1),
            np.stack([r[..., 1, 0] - r[..., 0, 1], r[..., 0, 2] + r[..., 2, 0], r[..., 2, 1] + r[..., 1, 2],
                      1 - m00 - m11 + m22], -1),
        ],
        -2,
    )  # fmt: skip
    pick = np.argmax(np.stack([m00 + m11 + m22, m00, m11, m22], -1), axis=-1)
    q = np.take_along_axis(cases, pick[..., None, None], axis=-2)[..., 0, :]
    q = q / np.linalg.norm(q, axis=-1, keepdims=True)
    return np.asarray(np.where(q[..., :1] < 0, -q, q))


def _one_quaternion(r: list[list[float]]) -> Array:
    """The same of one matrix, to the last bit, without a dozen small arrays: poses are read off one by
    one."""
    (m00, m01, m02), (m10, m11, m12), (m20, m21, m22) = r
    weights = (m00 + m11 + m22, m00, m11, m22)
    row = (
        (1 + m00 + m11 + m22, m21 - m12, m02 - m20, m10 - m01),
        (m21 - m12, 1 + m00 - m11 - m22, m10 + m01, m02 + m20),
        (m02 - m20, m10 + m01, 1 - m00 + m11 - m22, m21 + m12),
        (m10 - m01, m02 + m20, m21 + m12, 1 - m00 - m11 + m22),
    )[weights.index(max(weights))]
    norm = math.sqrt(row[0] * row[0] + row[1] * row[1] + row[2] * row[2] + row[3] * row[3])
    q = np.array([c / norm for c in row])
    return -q if q[0] < 0 else q


def rotation_from_quaternion(q: Array) -> Array:
    """Unit quaternion (w, x, y, z) (..., 4) -> rotation matrix (..., 3, 3)."""
    q = np.asarray(q, dtype=np.float64)
    k = hat(q[..., 1:])
    return np.asarray(np.eye(3) + 2 * q[..., :1, None] * k + 2 * (k @ k))


def exp(xi: Array) -> Array:
    """Twist (..., 6), translation first [m, rad] -> pose (..., 4, 4)."""
    xi = np.asarray(xi, dtype=np.float64)
    rho, phi = xi[..., :3], xi[..., 3:]
    _, b, c = _coefficients(np.linalg.norm(phi, axis=-1))
    k = hat(phi)
    left = np.eye(3) + b[..., None, None] * k + c[..., None, None] * (k @ k)
    return pose(so3_exp(phi), (left @ rho[..., None])[..., 0])


def log(transform: Array) -> Array:
    """Pose (..., 4, 4) -> twist (..., 6), translation first [m, rad]."""
    phi = so3_log(transform[..., :3, :3])
    theta = np.linalg.norm(phi, axis=-1)
    a, b, _ = _coefficients(theta)
    small, t2 = theta < _SERIES, theta * theta
    series = 1 / 12 + t2 / 720 * (1 + t2 / 42 * (1 + t2 / 40))  # (1 - t/2 cot(t/2)) / t^2
    d = np.where(small, series, (1 - a / (2 * b)) / np.where(small, 1.0, t2))
    k = hat(phi)
    left_inverse = np.eye(3) - 0.5 * k + d[..., None, None] * (k @ k)
    rho = (left_inverse @ transform[..., :3, 3][..., None])[..., 0]
    return np.concatenate([rho, phi], axis=-1)


def pose(rotation: Array, translation: Array) -> Array:
    """Rotation (..., 3, 3) and translation (..., 3) [m] -> pose (..., 4, 4)."""
    translation = np.asarray(translation, dtype=np.float64)
    out = np.zeros((*np.broadcast_shapes(rotation.shape[:-2], translation.shape[:-1]), 4, 4))
    out[..., :3, :3], out[..., :3, 3], out[..., 3, 3] = rotation, translation, 1.0
    return out


def inverse(transform: Array) -> Array:
    """Inverse of a pose (..., 4, 4)."""
    out = np.zeros(transform.shape)
    out[..., :3, :3] = rt = transform[..., :3, :3].swapaxes(-1, -2)
    out[..., :3, 3:] = -(rt @ transform[..., :3, 3:])
    out[..., 3, 3] = 1.0
    return out


def adjoint(transform: Array) -> Array:
    """Ad(T) (..., 6, 6), translation first: T exp(xi) T^-1 = exp(Ad(T) xi)."""
    r = transform[..., :3, :3]
    out = np.zeros((*transform.shape[:-2], 6, 6))
    out[..., :3, :3] = out[..., 3:, 3:] = r
    out[..., :3, 3:] = hat(transform[..., :3, 3]) @ r
    return out


def translation(x: float, y: float, z: float) -> Array:
    """Pure translation [m] as a pose (4, 4)."""
    return pose(np.eye(3), np.array([x, y, z]))


def rotation(axis: Array, angle: float) -> Array:
    """Rotation by angle [rad] about a unit axis (3,) through the origin, as a pose (4, 4)."""
    return pose(so3_exp(np.asarray(axis, dtype=np.float64) * angle), np.zeros(3))


def fixed_xyz(rx: float, ry: float, rz: float) -> Array:
    """Rotations [rad] about the fixed x, then y, then z axis, as a pose (4, 4)."""
    return np.asarray(
        rotation(np.array([0.0, 0, 1]), rz)
        @ rotation(np.array([0.0, 1, 0]), ry)
        @ rotation(np.array([1.0, 0, 0]), rx)
    )


def distance(a: Array, b: Array) -> tuple[float, float]:
    """Distance [m] and angle [rad] between two poses (4, 4)."""
    angle = np.linalg.norm(so3_log(a[:3, :3].T @ b[:3, :3]))
    return float(np.linalg.norm(a[:3, 3] - b[:3, 3])), float(angle)
