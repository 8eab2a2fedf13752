"""A motion as arrays: positions at any time, and bounds on what lies between."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.model.motion import Motion
from handfast.proof.stl import Array


@dataclass(frozen=True)
class JointPath:
    """Knots of constant joint acceleration between them. t (k,) [s], q (k, n) [rad], v (k, n) [rad/s]."""

    t: Array
    q: Array
    v: Array

    def acceleration(self) -> Array:
        """Of each segment, (k - 1, n) [rad/s2]."""
        return np.asarray(np.diff(self.v, axis=0) / np.diff(self.t)[:, None])

    def at(self, times: Array) -> tuple[Array, Array, Array]:
        """Position, velocity and acceleration at times (m,) of the motion [s], each (m, n); clamped to its
        ends."""
        clamped = np.clip(times, self.t[0], self.t[-1])
        segment = np.clip(np.searchsorted(self.t, clamped, side="right") - 1, 0, len(self.t) - 2)
        s = (clamped - self.t[segment])[:, None]
        a = self.acceleration()[segment]
        v = self.v[segment] + a * s
        return self.q[segment] + self.v[segment] * s + a * s * s / 2, v, a


def joint_path(motion: Motion) -> JointPath:
    """From a motion. Shapes are as its record says; `broken` in motion_checks tells where they are not."""
    return JointPath(np.array(motion.t), np.array(motion.q), np.array(motion.v))


def control_steps(v: Array, a: Array, half: Array) -> Array:
    """Joint steps from the middle of intervals that lie in one segment each: (m, 4, n) [rad].

    v, a: (m, n) in the middle; half: (m,) half length [s]. With constant acceleration the step is a parabola
    in joint space on each side of the middle; each lies in the hull of 0 and its two Bezier points, which are
    returned.
    """
    h = half[:, None]
    linear, square = v * h, a * h * h / 2
    return np.stack([linear / 2, linear + square, -linear / 2, -linear + square], axis=1)
