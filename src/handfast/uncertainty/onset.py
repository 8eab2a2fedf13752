"""Depth at which two-point contact begins, for many draws at once.

A peg pushed by the hole's rim leans by one_point's formula until its tip meets the opposite wall: a quadratic
in l. A peg that leans the other way keeps its tip corner against the wall, at constant tilt, until the far
rim touches: l2 = 2 cR/abs(th). Draws whose tip enters untouched meet the rim on the side to which they lean.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handfast.uncertainty.peg_in_hole import PegInHole, Support

Array = NDArray[np.float64]


def onset_depth(peg: PegInHole, support: Support, mu: float, lateral: Array, tilt: Array) -> Array:
    """Depth [m] of first two-point contact for `lateral` [m] and `tilt` [rad], (n,); inf if none."""
    room = peg.radial_clearance
    touches = np.abs(lateral) > room
    # Mirror each draw so that the wall that is met first lies on the positive side.
    side = np.where(np.where(touches, lateral, tilt) >= 0.0, 1.0, -1.0)
    lateral, tilt = side * lateral, side * tilt
    entered = tilt + np.where(touches, _entry_tilt_rate(peg, support, mu) * (lateral - room), 0.0)
    by_rim = _rim_onset(peg, support, mu, lateral, tilt)
    with np.errstate(divide="ignore"):
        by_tip = 2.0 * room / np.abs(entered)
    return np.where(entered >= 0.0, by_rim, by_tip)


def _entry_tilt_rate(peg: PegInHole, support: Support, mu: float) -> float:
    """Tilt gained per lateral push of the tip corner [rad/m]: one-point contact at depth zero."""
    lever = support.centre_distance - mu * peg.peg_radius
    kx, kt = support.lateral_stiffness, support.angular_stiffness
    return kx * lever / (kx * lever * support.centre_distance + kt)


def _rim_onset(peg: PegInHole, support: Support, mu: float, lateral: Array, tilt: Array) -> Array:
    """Smallest positive root of l th(l) = 2 cR with one-point contact at the rim (see one_point)."""
    kx, kt, lg = support.lateral_stiffness, support.angular_stiffness, support.centre_distance
    room, reach = peg.radial_clearance, lg - mu * peg.peg_radius
    offset = lateral - room + lg * tilt
    a = -kx * offset - 2.0 * room * kx
    b = kx * reach * offset + kt * tilt + 2.0 * room * kx * (reach + lg)
    c = -2.0 * room * (kx * reach * lg + kt)
    square = b * b - 4.0 * a * c
    q = -0.5 * (b + np.copysign(np.sqrt(np.maximum(square, 0.0)), b))
    with np.errstate(divide="ignore", invalid="ignore"):
        roots = np.stack([q / a, c / q])
    usable = (square >= 0.0) & (roots > 0.0)
    return np.asarray(np.where(usable, roots, np.inf).min(axis=0))
