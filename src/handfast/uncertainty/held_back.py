"""Where a fit keeps a shaft that a hand would hold elsewhere.

The shaft's axis stays within a disc of the radial clearance R at the mouth of its hole and at the end of the
engaged length. The hand is a spring at its grip: sideways k, against tilting K about the grip, which lies
`beyond` times the length below the mouth (negative: above it). Without friction contact leaves the axis where
the springs' energy is least. With offsets m at the mouth and e at the end it is, per axis, for their
deviations from where the hand would have them,

    (k ((1 - s) dm + s de)^2 + K ((de - dm) / L)^2) / 2  =  (a dm^2 + 2 b dm de + c de^2) / 2,

a convex form over two discs: inside both, at the wall of one, or at both walls. There the two angles of
contact are found by Newton's method.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating[Any]]
_STEPS = 30
_CLOSE = 1e-10  # of an angle that is found [rad]


@dataclass(frozen=True, slots=True)
class Hold:
    """How a hand holds a shaft by its mouth and its end, per axis: [[a, b], [b, c]] [N/m]."""

    a: float
    b: float
    c: float


def hold_of(lateral: float, angular: float, beyond: float, length: float) -> Hold:
    """lateral, angular: stiffness of the hand at its grip [N/m, N m/rad]; beyond: how far below the mouth the
    grip lies, as a share of the engaged length [m]."""
    tilt = angular / length**2
    return Hold(
        lateral * (1 - beyond) ** 2 + tilt, lateral * beyond * (1 - beyond) - tilt, lateral * beyond**2 + tilt
    )


def held_back(d: Floats, radius: Floats, hold: Hold | None) -> Floats:
    """Where the axis ends, for offsets d (k, n) that the hand would have [m]: rows x, y at the mouth and, if
    k = 4, again at the end; radius (n,) [m]. hold: None where only the mouth limits it."""
    if hold is None:
        return _within(d, radius)
    mouth, end = d[:2], d[2:]
    at_mouth, at_end = _within(mouth, radius), _within(end, radius)
    # At one wall alone the other end gives way as the springs let it.
    follows = end + (hold.b / hold.c) * (mouth - at_mouth), mouth + (hold.b / hold.a) * (end - at_end)
    out = np.array(d)
    only_mouth = _beyond(mouth, radius) & ~_beyond(follows[0], radius)
    only_end = _beyond(end, radius) & ~_beyond(follows[1], radius) & ~only_mouth
    both = (_beyond(mouth, radius) | _beyond(end, radius)) & ~only_mouth & ~only_end
    out[:, only_mouth] = np.concatenate([at_mouth, follows[0]])[:, only_mouth]
    out[:, only_end] = np.concatenate([follows[1], at_end])[:, only_end]
    if both.any():
        out[:, both] = _at_both_walls(d[:, both].astype(np.float64), radius[both].astype(np.float64), hold)
    return out


def _within(d: Floats, radius: Floats) -> Floats:
    return np.asarray(d * np.minimum(1.0, radius / np.maximum(np.hypot(d[0], d[1]), 1e-15)))


def _beyond(d: Floats, radius: Floats) -> NDArray[np.bool_]:
    return np.asarray(np.hypot(d[0], d[1]) > radius)


def _at_both_walls(d: Floats, radius: Floats, hold: Hold) -> Floats:
    """Both ends on their circles, at angles that leave the least energy."""
    u = (hold.a * d[0] + hold.b * d[2]) + 1j * (hold.a * d[1] + hold.b * d[3])
    v = (hold.b * d[0] + hold.c * d[2]) + 1j * (hold.b * d[1] + hold.c * d[3])
    r = np.maximum(radius, 1e-12)
    m, e = _direction(u), _direction(v)
    slack = np.inf
    for _ in range(_STEPS):
        across = hold.b * r * m * np.conj(e)
        pull_m, pull_e = u * np.conj(m), v * np.conj(e)
        # Gradient and second derivatives of the energy by both angles, over r.
        of_m, of_e = -pull_m.imag - across.imag, -pull_e.imag + across.imag
        mm, ee, me = pull_m.real - across.real, pull_e.real - across.real, across.real
        det = mm * ee - me**2
        newton = (mm > 0) & (det > 0)
        safe = np.where(newton, det, 1.0)
        turn_m = np.where(newton, -(ee * of_m - me * of_e) / safe, 0.0)
        turn_e = np.where(newton, -(mm * of_e - me * of_m) / safe, 0.0)
        # Where the energy is not convex in the angles: each end in turn where the other leaves it.
        slow_m = _direction(u - hold.b * r * e)
        slow_e = _direction(v - hold.b * r * slow_m)
        m = np.where(newton, m * np.exp(1j * np.clip(turn_m, -0.5, 0.5)), slow_m)
        e = np.where(newton, e * np.exp(1j * np.clip(turn_e, -0.5, 0.5)), slow_e)
        slack = float(np.max(np.where(newton, np.maximum(abs(turn_m), abs(turn_e)), 1.0)))
        if slack < _CLOSE:
            break
    return np.array([r * m.real, r * m.imag, r * e.real, r * e.imag])


def _direction(z: NDArray[np.complex128]) -> NDArray[np.complex128]:
    size = np.abs(z)
    return np.where(size > 0, z / np.maximum(size, 1e-300), 1.0 + 0j)
