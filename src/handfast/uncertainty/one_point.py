"""One-point contact: the hole's rim pushes one side of the peg while it slides in.

With e' = e0 - cR, C = Kx (Lg - l - mu r): tilt = [C (e' + Lg th0) + Ktheta th0]/[C (Lg - l) + Ktheta] and
Fz = mu Kx Ktheta (e' + l th0)/[C (Lg - l) + Ktheta] at depth l.
Source: Whitney, J. Dyn. Sys. Meas. Control 104 (1982) 65-77 (from memory; derived again from statics).
"""

from __future__ import annotations

from dataclasses import dataclass

from handfast.uncertainty.peg_in_hole import PegInHole, Support, require_friction


@dataclass(frozen=True, slots=True)
class OnePoint:
    """Tilt [rad] and axial force [N] of one-point contact; a negative force means that contact is lost."""

    tilt: float
    axial_force: float


def one_point_contact(
    peg: PegInHole, support: Support, mu: float, lateral: float, tilt: float, depth: float
) -> OnePoint:
    """Contact of the rim at `depth` [m] for initial errors `lateral` e0 [m] and `tilt` th0 [rad], e0 > 0."""
    require_friction(mu)
    kx, kt, lg = support.lateral_stiffness, support.angular_stiffness, support.centre_distance
    pushed = lateral - peg.radial_clearance
    lever = kx * (lg - depth - mu * peg.peg_radius)
    below = lever * (lg - depth) + kt
    return OnePoint(
        tilt=(lever * (pushed + lg * tilt) + kt * tilt) / below,
        axial_force=mu * kx * kt * (pushed + depth * tilt) / below,
    )
