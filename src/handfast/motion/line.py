"""Straight lines of the hand as joint waypoints."""

from __future__ import annotations

import numpy as np

from handfast.kinematics.chain import Chain
from handfast.kinematics.inverse import inverse
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_JUMP = 0.25  # largest joint step between neighbouring samples on one branch [rad]
_STEADY = 0.05  # with steps no larger than this the solver numbers the branches alike all along [rad]


def between(T_a: Array, T_b: Array, step: float = 0.001) -> Array:
    """Poses (k, 4, 4) on the straight line from T_a to T_b, both ends included, at most `step` [m] apart.

    Position and rotation change at a constant rate.
    """
    if np.abs(T_a[:3, :3] - T_b[:3, :3]).max() < 1e-12:  # most lines do not turn
        length = float(np.linalg.norm(T_b[:3, 3] - T_a[:3, 3]))
        share = np.linspace(0, 1, max(2, int(np.ceil(length / step)) + 1))[:, None]
        return se3.pose(T_a[:3, :3], T_a[:3, 3] + share * (T_b[:3, 3] - T_a[:3, 3]))
    length, angle = se3.distance(T_a, T_b)
    count = max(2, int(np.ceil(max(length / step, angle / 0.02))) + 1)
    share = np.linspace(0, 1, count)[:, None]
    rotation = se3.so3_exp(share * se3.so3_log(T_a[:3, :3].T @ T_b[:3, :3]))
    return se3.pose(T_a[:3, :3] @ rotation, T_a[:3, 3] + share * (T_b[:3, 3] - T_a[:3, 3]))


def waypoints(chain: Chain, T_world_tip: Array, start: Array) -> Array | None:
    """Joint waypoints (k, n) through tip poses (k, 4, 4) on the branch of `start` (n,), which reaches the
    first pose.

    None if the branch ends on the way (reach, joint limit) or jumps (a singularity too near).
    """
    q, valid = inverse(chain, T_world_tip, np.asarray(start))
    if not valid.any(axis=1).all():
        return None
    q = np.where(valid[..., None], q, np.inf)
    first = np.abs(q[0] - start).max(axis=1)
    branch = int(first.argmin())
    if first[branch] > 1e-6:
        return None
    same = q[:, branch]
    if valid[:, branch].all() and np.abs(same[1:] - same[:-1]).max() < _STEADY:
        return np.asarray(same)
    with np.errstate(invalid="ignore"):  # inf - inf between branches that are both missing
        steps = np.abs(q[1:, None, :, :] - q[:-1, :, None, :]).max(axis=-1)  # (k - 1, from, to)
    steps = np.where(np.isfinite(steps), steps, np.inf)
    nearest, least = steps.argmin(axis=2), steps.min(axis=2)
    chosen = [branch]
    for i in range(len(q) - 1):
        if least[i, branch] > _JUMP:
            return None
        branch = int(nearest[i, branch])
        chosen.append(branch)
    return np.asarray(q[np.arange(len(q)), chosen])
