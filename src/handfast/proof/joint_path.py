"""A motion as arrays: positions at any time, and bounds on what lies between."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from handfast.model.motion import Motion
from handfast.proof.stl import Array


@dataclass(frozen=True)
class JointPath:
    """Knots of constant joint acceleration between them. t (k,) [s], q (k, n) [rad], v (k, n) [rad/s]."""

    t: Array
    q: Array
    v: Array

    @cached_property
    def acceleration(self) -> Array:
        """Of each segment, (k - 1, n) [rad/s2]."""
        return np.asarray(np.diff(self.v, axis=0) / np.diff(self.t)[:, None])

    def at(self, times: Array) -> tuple[Array, Array, Array]:
        """Position, velocity and acceleration at times (m,) of the motion [s], each (m, n); clamped to its
        ends."""
        clamped = np.clip(times, self.t[0], self.t[-1])
        segment = np.clip(np.searchsorted(self.t, clamped, side="right") - 1, 0, len(self.t) - 2)
        s = (clamped - self.t[segment])[:, None]
        a = self.acceleration[segment]
        v = self.v[segment] + a * s
        return self.q[segment] + self.v[segment] * s + a * s * s / 2, v, a


def joint_path(motion: Motion) -> JointPath:
    """From a motion. Shapes are as its record says; `broken` in motion_checks tells where they are not."""
    return JointPath(np.array(motion.t), np.array(motion.q), np.array(motion.v))


def control_steps(path: JointPath, times: Array, q_middle: Array) -> Array:
    """Joint steps from the middle of intervals: (m, 2 s - 1, n) [rad].

    times: (m, s) of the motion [s], rising, from the start of each interval to its end, with every knot
    inside; q_middle (m, n): there [rad]. Between two of the times the motion is a parabola in joint space,
    which lies in the hull of its three Bezier points; those of all are returned, seen from the middle.
    """
    count, each = times.shape
    q, v, _ = path.at(times.reshape(-1))
    q, v = q.reshape(count, each, -1), v.reshape(count, each, -1)
    between = q[:, :-1] + v[:, :-1] * np.diff(times, axis=1)[..., None] / 2
    return np.asarray(np.concatenate([q, between], axis=1) - q_middle[:, None])
