"""Timing of joint paths: rest to rest, within velocity and acceleration limits."""

from __future__ import annotations

from itertools import chain
from typing import Literal

import numpy as np

from handfast import _kernel
from handfast.kinematics.chain import Chain
from handfast.model.motion import Motion
from handfast.spatial.se3 import Array

_CORNER = {"free": 0.02, "line": 1e-5}  # how far a blend may leave the joint polyline [rad]


def timed(
    chain: Chain,
    path: Array,
    kind: Literal["free", "line"],
    least: Array | None = None,
    corner: float | None = None,
) -> Motion:
    """A motion along joint waypoints (k, n); least: shortest time of each segment (k - 1,) [s].

    corner: how far the blends that round the corners may leave the polyline [rad]; 0.02 rad in free space and
    0.01 mrad on lines if it is not given.
    """
    within = _CORNER[kind] if corner is None else corner
    knots = _kernel.time_path(path, chain.velocity, chain.acceleration, within, least)
    return Motion(chain.name, kind, tuple(knots.t.tolist()), _rows(knots.q), _rows(knots.v))


def _rows(values: Array) -> tuple[tuple[float, ...], ...]:
    return tuple(map(tuple, np.asarray(values).tolist()))


def _table(rows: tuple[tuple[float, ...], ...]) -> Array:
    """The rows as an array (k, n), in half the time that numpy takes to find out how they are nested."""
    return np.fromiter(chain.from_iterable(rows), np.float64).reshape(len(rows), -1)


def at(motion: Motion, time: Array | float) -> Array:
    """Joint values (m, n) of a motion at times (m,) [s] from its start; held at its ends outside."""
    t, q, v = np.array(motion.t), _table(motion.q), _table(motion.v)
    s = np.clip(np.atleast_1d(time), t[0], t[-1])
    i = np.clip(np.searchsorted(t, s, side="right") - 1, 0, len(t) - 2)
    h = t[i + 1] - t[i]
    s = (s - t[i])[:, None]
    a = (v[i + 1] - v[i]) / np.where(h > 0, h, 1)[:, None]
    return np.asarray(q[i] + v[i] * s + a * s * s / 2)
