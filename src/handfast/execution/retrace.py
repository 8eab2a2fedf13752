"""Ways back along a line, and sideways to a neighbouring one."""

from __future__ import annotations

import numpy as np

from handfast.kinematics.chain import Chain
from handfast.kinematics.forward import forward
from handfast.model.motion import Motion
from handfast.motion.line import between, waypoints
from handfast.motion.timing import at, timed
from handfast.spatial.se3 import Array

_SAMPLES = 60
_SAME = 1e-6  # joint values that differ less are the same place [rad]
_SPEED = 0.5  # a motion is gone back, or to its end, at this share of its speed


def retraced(chain: Chain, motion: Motion, q: Array) -> Motion | None:
    """From q (n,), somewhere on the motion, back to its start along the same way; None if it stands there.

    Half as fast as the motion was planned.
    """
    path = at(motion, np.linspace(0.0, motion.duration, _SAMPLES))
    here = _nearest(path, q)
    return _slowly(chain, motion, np.concatenate([q[None], path[: max(here, 1)][::-1]]))


def onward(chain: Chain, motion: Motion, q: Array) -> Motion | None:
    """From q (n,), somewhere on the motion, to its end along the same way; None if it stands there. As
    slow."""
    path = at(motion, np.linspace(0.0, motion.duration, _SAMPLES))
    here = _nearest(path, q)
    return _slowly(chain, motion, np.concatenate([q[None], path[min(here + 1, _SAMPLES - 1) :]]))


def _nearest(path: Array, q: Array) -> int:
    return int(np.abs(path - q).max(axis=1).argmin())


def _slowly(chain: Chain, motion: Motion, path: Array) -> Motion | None:
    kept = [path[0]]
    for row in path[1:]:
        if np.abs(row - kept[-1]).max() > _SAME:
            kept.append(row)
    if len(kept) < 2:
        return None
    least = np.full(len(kept) - 1, motion.duration / (_SAMPLES - 1) / _SPEED)
    return timed(chain, np.array(kept), motion.path, least)


def sideways(chain: Chain, line: Motion, now: Array, then: Array) -> Motion | None:
    """From the start of a line to the start of the same line moved on: shift `now` to `then` (4, 4), both
    T_world_tip' = shift @ T_world_tip of the plan. None where it is the same, or out of reach."""
    q = np.array(line.q[0])
    T_a = forward(chain, q)[0]
    T_b = then @ np.linalg.inv(now) @ T_a
    if np.abs(T_b - T_a).max() < _SAME:
        return None
    path = waypoints(chain, between(T_a, T_b, 1e-4), q)
    return None if path is None else timed(chain, path, "line", np.full(len(path) - 1, 0.01))
