"""Inverse kinematics of a chain, all branches."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from handfast import _kernel
from handfast.kinematics.chain import Chain
from handfast.kinematics.forward import kernel_arm
from handfast.spatial import se3
from handfast.spatial.se3 import Array


def inverse(chain: Chain, T_world_tip: ArrayLike, near: ArrayLike | None = None) -> tuple[Array, np.ndarray]:
    """All branches for targets (m, 4, 4): q (m, 8, n) [rad] and which of them are valid (m, 8).

    Of each joint's equivalents by whole turns the one nearest to `near` (n,) is given.
    """
    return _kernel.ik(kernel_arm(chain), np.asarray(T_world_tip, dtype=np.float64), near)


def follow(chain: Chain, T_world_tip: Array, start: Array, iterations: int = 30) -> Array | None:
    """Joint values for poses (m, 4, 4) that lie close together, each found from the one before; start: (n,).

    Newton's method on the pose error, which stays on the branch it starts from. None if it does not converge
    to 1e-8 (near a singularity) or leaves the joint limits.
    """
    arm, q, out = kernel_arm(chain), np.array(start, dtype=np.float64), []
    for target in T_world_tip:
        for _ in range(iterations):
            reached = _kernel.fk(arm, q[None])[0]
            error = se3.log(se3.inverse(reached) @ target)
            if np.abs(error).max() < 1e-10:
                break
            rotation = reached[:3, :3]
            world = np.concatenate([rotation @ error[:3], rotation @ error[3:]])
            step = np.linalg.lstsq(_kernel.jacobian(arm, q[None])[0], world, rcond=1e-8)[0]
            q = q + np.clip(step, -0.2, 0.2)
        else:
            if np.abs(error).max() > 1e-8:
                return None
        if np.any(q < chain.lower) or np.any(q > chain.upper):
            return None
        out.append(q)
    return np.array(out)
