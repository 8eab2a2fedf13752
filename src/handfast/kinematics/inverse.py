"""Inverse kinematics of a chain, all branches."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from handfast import _kernel
from handfast.kinematics.chain import Chain
from handfast.kinematics.forward import kernel_arm
from handfast.spatial.se3 import Array

_BESIDE = 0.1  # a branch this near is the one that stands close by [rad] ...
_CLEARLY = 3.0  # ... if the next one is so many times as far: near a singularity branches run together


def inverse(chain: Chain, T_world_tip: ArrayLike, near: ArrayLike | None = None) -> tuple[Array, np.ndarray]:
    """All branches for targets (m, 4, 4): q (m, 8, n) [rad] and which of them are valid (m, 8).

    Of each joint's equivalents by whole turns the one nearest to `near` (n,) is given.
    """
    return _kernel.ik(kernel_arm(chain), np.asarray(T_world_tip, dtype=np.float64), near)


def reaches(chain: Chain, T_world_tip: ArrayLike) -> np.ndarray:
    """For which targets (m, 4, 4) there is any branch, (m,): what `inverse` finds, told sooner."""
    return _kernel.ik_reaches(kernel_arm(chain), np.asarray(T_world_tip, dtype=np.float64))


def least_turn(chain: Chain, T_world_tip: ArrayLike, near: ArrayLike) -> Array:
    """How far a joint has to turn at least from `near` (n,) to targets (m, 4, 4), (m,) [rad]; inf where there
    is no branch. Within 1e-6 of what `inverse` says, and told sooner."""
    return _kernel.ik_turn(kernel_arm(chain), np.asarray(T_world_tip, dtype=np.float64), near)


def beside(chain: Chain, T_world_tip: Array, near: Array) -> Array | None:
    """Joint values (m, n) for poses (m, 4, 4), each on the branch of its own `near` (m, n), which is close.

    In closed form where the arm has one and a single branch is near; else found from `near` as `follow` does.
    None as there.
    """
    arm, out = kernel_arm(chain), np.array(near, dtype=np.float64)
    left = np.arange(len(out))
    if _kernel.structure(arm) != "numeric":
        q, valid = _kernel.ik(arm, np.asarray(T_world_tip, dtype=np.float64), out)
        apart = np.where(valid, np.abs(q - out[:, None]).max(axis=-1), np.inf)
        order = np.sort(apart, axis=1)
        plain = (order[:, 0] < _BESIDE) & (order[:, 1] > _CLEARLY * order[:, 0])
        out[plain] = q[plain, apart[plain].argmin(axis=1)]
        left = np.flatnonzero(~plain)
    for i in left:
        found = follow(chain, T_world_tip[i, None], near[i])
        if found is None:
            return None
        out[i] = found[0]
    return out


def follow(chain: Chain, T_world_tip: Array, start: Array, iterations: int = 30) -> Array | None:
    """Joint values for poses (m, 4, 4) that lie close together, each found from the one before; start: (n,).

    Newton's method on the pose error, which stays on the branch it starts from. None if it does not converge
    to 1e-8 (near a singularity), leaves the joint limits, or a pose is turned by more than a right angle from
    where it stands.
    """
    arm, q, out = kernel_arm(chain), np.array(start, dtype=np.float64), []
    for target in T_world_tip:
        for _ in range(iterations):
            reached = _kernel.fk(arm, q[None])[0]
            error = _short_of(reached, target)
            if error is None:
                return None
            if np.abs(error).max() < 1e-10:
                break
            step = np.linalg.lstsq(_kernel.jacobian(arm, q[None])[0], error, rcond=1e-8)[0]
            q = q + np.clip(step, -0.2, 0.2)
        else:
            if error is None or np.abs(error).max() > 1e-8:
                return None
        if np.any(q < chain.lower) or np.any(q > chain.upper):
            return None
        out.append(q)
    return np.array(out)


def _short_of(reached: Array, target: Array) -> Array | None:
    """What is missing (6,), in world axes: translation, and the axis of the turn times its sine, which for
    poses close together is the turn itself and costs a tenth of the logarithm. None beyond a right angle,
    from where on the sine goes down again.
    """
    turn = target[:3, :3] @ reached[:3, :3].T
    if np.trace(turn) < 1.0:
        return None
    x, y, z = turn[2, 1] - turn[1, 2], turn[0, 2] - turn[2, 0], turn[1, 0] - turn[0, 1]
    return np.concatenate([target[:3, 3] - reached[:3, 3], (0.5 * x, 0.5 * y, 0.5 * z)])
