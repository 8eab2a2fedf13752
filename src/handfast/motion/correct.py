"""Correcting a planned motion by what a touch has shown."""

from __future__ import annotations

import numpy as np

from handfast.kinematics.chain import Chain
from handfast.kinematics.forward import forward
from handfast.kinematics.inverse import beside
from handfast.model.motion import Motion
from handfast.motion.timing import timed
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_STRAIGHT = 1e-9  # [rad/s]


class CorrectionError(ValueError):
    """A correction that the arm cannot make."""


def corrected(
    chain: Chain, motion: Motion, T_world_shift: Array, T_world_shift_start: Array | None = None
) -> Motion:
    """The motion with its tip poses moved by T_world_shift (4, 4): T_world_tip' = T_world_shift @
    T_world_tip.

    T_world_shift_start: the shift at the first knot, if another (identity where an uncorrected motion went
    before); in between the shift changes in proportion to time. Timed anew, no faster than before. Raises
    CorrectionError if the arm cannot follow.
    """
    q, t = _corners(motion)
    start = T_world_shift if T_world_shift_start is None else T_world_shift_start
    share = ((t - t[0]) / (t[-1] - t[0]))[:, None]
    shift = start @ se3.exp(share * se3.log(se3.inverse(start) @ T_world_shift))
    # Each knot from its own planned values: those of a free motion lie far apart, and a branch could be lost.
    targets = shift @ forward(chain, q)
    found = beside(chain, targets, q)
    if found is None:
        raise CorrectionError(f"arm {chain.name!r} cannot follow the motion moved by the measured correction")
    return timed(chain, found, motion.path, np.diff(t))


def _corners(motion: Motion) -> tuple[Array, Array]:
    """The polyline that a motion rounds the corners of: (k, n) [rad], and when it passes each (k,) [s].

    Where it speeds up, slows down or turns, with constant acceleration, the tangents at both ends meet in a
    corner, halfway in time. Its own knots as corners would be rounded once more, at half the speed.
    """
    t, q, v = np.array(motion.t), np.array(motion.q), np.array(motion.v)
    h = np.diff(t)
    turns = np.abs(np.diff(v, axis=0)).max(axis=1) > _STRAIGHT
    if not (turns[0] and turns[-1]) or np.abs(v[[0, -1]]).max() > _STRAIGHT:
        return q, t
    return (q[:-1] + v[:-1] * h[:, None] / 2)[turns], (t[:-1] + h / 2)[turns]
