"""Quasi-static insertion of many drawn errors at once: does each peg go in, how hard, and could it wedge?

Each draw is planar: one lateral tip error and one tilt in the same plane. The peg crosses the chamfer, then
slides to full depth through one- and two-point contact; the greatest axial force on the way counts. Two-point
contact is quadratic in 1/l, so its peak is taken at its vertex and needs no fine sweep.

Limits: rigid round parts, small angles, friction fully sliding, gravity and inertia left out. Out of plane
the draws are projected (see planar_errors). While a leading edge is still on the chamfer a strongly tilted
peg touches on both sides, which this leaves out: treat r abs(tilt) well above cR as model-dependent. Source:
Whitney, J. Dyn. Sys. Meas. Control 104 (1982) 65-77 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast.uncertainty.chamfer import chamfer_force_rate
from handfast.uncertainty.contact_state import contact_state
from handfast.uncertainty.onset import onset_depth
from handfast.uncertainty.peg_in_hole import PegInHole, Support, require_friction
from handfast.uncertainty.two_point import largest_entry_tilt

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Draws taken at once, so that the work arrays stay in the processor's cache.
_BLOCK = 8192
# Shares of the full depth at which the force is looked at besides the onset and the vertex of two-point
# contact.
_DEPTH_SHARES = (0.02, 0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True, slots=True)
class QuasiStatic:
    """What the model says of each draw, shape (n,).

    captured: the tip meets hole or chamfer and is not tilted too far to enter; peak_force: greatest axial
    force on the way in [N], infinite where the chamfer locks; onset: depth of first two-point contact [m],
    infinite if none; wedge: two-point contact begins at less than mu d, so the parts can wedge.
    """

    captured: Flags
    peak_force: Array
    onset: Array
    wedge: Flags

    def goes_in(self, force_limit: float) -> Flags:
        """Captured, and the peak force stays within `force_limit` [N]."""
        return self.captured & (self.peak_force <= force_limit)


def quasi_static(peg: PegInHole, support: Support, mu: float, lateral: Array, tilt: Array) -> QuasiStatic:
    """Evaluate draws of tip error `lateral` [m] and `tilt` [rad], each of shape (n,)."""
    require_friction(mu)
    lateral, tilt = np.broadcast_arrays(np.asarray(lateral, float), np.asarray(tilt, float))
    peak, onset = np.empty(lateral.shape), np.empty(lateral.shape)
    for start in range(0, lateral.size, _BLOCK):
        block = slice(start, start + _BLOCK)
        onset[block] = onset_depth(peg, support, mu, lateral[block], tilt[block])
        peak[block] = _peak_force(peg, support, mu, lateral[block], tilt[block], onset[block])
    pushed = np.sign(lateral) * np.maximum(np.abs(lateral) - peg.radial_clearance, 0.0)
    entry = tilt + support.coupling * pushed
    captured = (np.abs(lateral) <= peg.capture_radius) & (np.abs(entry) <= largest_entry_tilt(peg))
    return QuasiStatic(captured, peak, onset, onset < min(2.0 * mu * peg.peg_radius, peg.depth))


def planar_errors(lateral: Array, lean: Array, support: Support) -> tuple[Array, Array]:
    """Lateral error and tilt in the plane in which the hole must turn the peg, each (n,).

    lateral: tip errors (n, 2) [m]; lean: tilts (n, 2) [rad] in Whitney's sign, which for body-frame rotations
    (rx, ry) of a shaft frame with z out of its tip is (-ry, rx).
    """
    correction = lean + support.coupling * lateral
    length = np.linalg.norm(correction, axis=1, keepdims=True)
    direction = np.where(length > 0.0, correction / np.where(length > 0.0, length, 1.0), [1.0, 0.0])
    return np.sum(lateral * direction, axis=1), np.sum(lean * direction, axis=1)


def _peak_force(
    peg: PegInHole, support: Support, mu: float, lateral: Array, tilt: Array, onset: Array
) -> Array:
    pushed = np.maximum(np.abs(lateral) - peg.radial_clearance, 0.0)
    rate = chamfer_force_rate(peg, support, mu)
    with np.errstate(invalid="ignore"):
        on_chamfer = np.where(pushed > 0.0, pushed * rate, 0.0)
    depths = _depths(peg, support, mu, lateral, tilt, onset)
    state = contact_state(peg, support, mu, lateral, tilt, depths)
    return np.asarray(np.maximum(on_chamfer, state.axial_force(mu).max(axis=0)))


def _depths(peg: PegInHole, support: Support, mu: float, lateral: Array, tilt: Array, onset: Array) -> Array:
    """Depths (k, n) [m]: fixed shares of the insertion, the onset and the vertex of two-point contact.

    In two-point contact with the tilt's sign s, N1 + N2 = 2 [f (Lg - mu r) - m]/l - f with the support's
    f = Kx (U0 + s cR - 2 s cR Lg/l) and m = Ktheta (2 s cR/l - th0), which is greatest at
    1/l = {(Lg - mu r) Kx (s U0 + cR) + Ktheta s th0 + cR Kx Lg} / {4 cR [Kx Lg (Lg - mu r) + Ktheta]}.
    """
    kx, kt, lg, room = (
        support.lateral_stiffness,
        support.angular_stiffness,
        support.centre_distance,
        peg.radial_clearance,
    )
    reach = lg - mu * peg.peg_radius
    turn = np.where(tilt + support.coupling * lateral >= 0.0, 1.0, -1.0)
    offset = turn * (lateral + lg * tilt) + room
    top = reach * kx * offset + kt * turn * tilt + room * kx * lg
    inverse = np.maximum(top / (4.0 * room * (kx * lg * reach + kt)), 1.0 / peg.depth)
    shares = np.multiply.outer(np.array(_DEPTH_SHARES) * peg.depth, np.ones(lateral.shape))
    return np.concatenate([shares, np.minimum(onset, peg.depth)[None], (1.0 / inverse)[None]])
