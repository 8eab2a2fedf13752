"""Planar contact of a supported peg at given depths: which of rim and tip touch, and with what normal forces.

The peg's axis is at a at the hole's rim and at b at its tip; both stay within +-cR. A signed normal force P
at the rim and Q at the tip, each with sliding friction mu up the wall, move them from where the support would
have them (a0, b0): [a; b] = [a0; b0] - G [P; Q] with G_ij = 1/Kx + L_i (L_j - mu r)/Ktheta, L = (Lg - l, Lg).
Together with "a force only where it touches, and pushing inwards" this is a linear complementarity problem of
two unknowns; where both diagonal terms are positive it has exactly one solution (det G = l^2/(Kx Ktheta) >
0), found here by trying the few cases. Derived from statics with Whitney's assumptions (rigid parts, small
angles, axial force of friction only).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast.uncertainty.peg_in_hole import PegInHole, Support

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ContactState:
    """Signed normal forces [N] at rim and tip, of the inputs' common shape; positive pushes towards minus."""

    rim_force: Array
    tip_force: Array

    def axial_force(self, mu: float) -> Array:
        """Axial force that overcomes friction [N]."""
        return mu * (np.abs(self.rim_force) + np.abs(self.tip_force))


def contact_state(
    peg: PegInHole, support: Support, mu: float, lateral: Array, tilt: Array, depth: Array
) -> ContactState:
    """Contact forces for tip errors `lateral` [m], `tilt` [rad] at `depth` [m] > 0, broadcast together."""
    lateral, tilt, depth = np.broadcast_arrays(lateral, tilt, depth)
    room = peg.radial_clearance
    free_rim, free_tip = lateral + depth * tilt, lateral
    g_rr, g_rt, g_tr, g_tt = _compliance(peg, support, mu, depth)
    only_rim, only_tip = _excess(free_rim, room) / g_rr, _excess(free_tip, room) / g_tt
    rim_alone = np.abs(free_tip - g_tr * only_rim) <= room
    tip_alone = np.abs(free_rim - g_rt * only_tip) <= room
    rim = np.where(rim_alone, only_rim, 0.0)
    tip = np.where(~rim_alone & tip_alone, only_tip, 0.0)
    both = ~(rim_alone | tip_alone)
    if np.any(both):
        parts = (free_rim[both], free_tip[both], g_rr[both], g_rt[both], g_tr[both], depth[both])
        rim[both], tip[both] = _both_touch(parts, g_tt, room, support)
    return ContactState(rim, tip)


def _compliance(
    peg: PegInHole, support: Support, mu: float, depth: Array
) -> tuple[Array, Array, Array, float]:
    at_rim, at_tip = support.centre_distance - depth, support.centre_distance
    drag = mu * peg.peg_radius
    shift, turn = 1.0 / support.lateral_stiffness, 1.0 / support.angular_stiffness
    return (
        shift + turn * at_rim * (at_rim - drag),
        shift + turn * at_rim * (at_tip - drag),
        shift + turn * at_tip * (at_rim - drag),
        shift + turn * at_tip * (at_tip - drag),
    )


def _excess(position: Array, room: float) -> Array:
    """How far a free position lies beyond +-room, signed; zero inside."""
    return position - np.clip(position, -room, room)


def _both_touch(
    parts: tuple[Array, Array, Array, Array, Array, Array], g_tt: float, room: float, support: Support
) -> tuple[Array, Array]:
    """Forces with rim and tip both touching: the pair of sides whose forces push inwards."""
    free_rim, free_tip, g_rr, g_rt, g_tr, depth = parts
    determinant = depth**2 / (support.lateral_stiffness * support.angular_stiffness)
    best = np.full(free_rim.shape, -np.inf)
    rim, tip = np.zeros_like(best), np.zeros_like(best)
    for rim_side, tip_side in ((1.0, -1.0), (-1.0, 1.0), (1.0, 1.0), (-1.0, -1.0)):
        over_rim, over_tip = free_rim - rim_side * room, free_tip - tip_side * room
        p = (g_tt * over_rim - g_rt * over_tip) / determinant
        q = (g_rr * over_tip - g_tr * over_rim) / determinant
        inward = np.minimum(rim_side * p, tip_side * q)
        better = inward > best
        best, rim, tip = np.where(better, inward, best), np.where(better, p, rim), np.where(better, q, tip)
    return rim, tip
