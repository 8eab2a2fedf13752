"""Crossing the chamfer: how far the peg tilts and how hard it pushes while its tip slides down.

With A = cos a + mu sin a, B = sin a - mu cos a and Delta = (Kx Lg^2 + Ktheta) B - Kx Lg r A, at lateral
travel q of the tip: tilt = Kx q (Lg B - r A)/Delta, Fx = Kx Ktheta B q/Delta, Fz = Kx Ktheta A q/Delta. A
chamfer holds itself when tan a <= mu. Source: Whitney, J. Dyn. Sys. Meas. Control 104 (1982) 65-77 (from
memory; checked against statics in the tests).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from handfast.uncertainty.peg_in_hole import PegInHole, Support, require_friction


@dataclass(frozen=True, slots=True)
class ChamferCrossing:
    """State at the end of a stretch of chamfer: tilt gained [rad], lateral and axial force [N]."""

    tilt: float
    lateral_force: float
    axial_force: float


def chamfer_locks(peg: PegInHole, support: Support, mu: float) -> bool:
    """True where pushing down cannot make the tip slide: tan a <= mu, or the support folds (Delta <= 0)."""
    return _slope(peg, mu)[1] <= 0.0 or _determinant(peg, support, mu) <= 0.0


def chamfer_crossing(peg: PegInHole, support: Support, mu: float, travel: float) -> ChamferCrossing:
    """Tilt and forces after the chamfer has moved the tip sideways by `travel` [m].

    Raises ValueError where the chamfer locks.
    """
    if chamfer_locks(peg, support, mu):
        raise ValueError(
            f"chamfer: slides only with tan(angle) > friction and a stiff support, found angle "
            f"{math.degrees(peg.chamfer_angle):.3g} deg at mu {mu}"
        )
    along, across = _slope(peg, mu)
    scale = support.lateral_stiffness * travel / _determinant(peg, support, mu)
    return ChamferCrossing(
        tilt=scale * (support.centre_distance * across - peg.peg_radius * along),
        lateral_force=scale * support.angular_stiffness * across,
        axial_force=scale * support.angular_stiffness * along,
    )


def chamfer_force_rate(peg: PegInHole, support: Support, mu: float) -> float:
    """Axial force per lateral travel of the tip on the chamfer [N/m]; infinite where the chamfer locks."""
    if chamfer_locks(peg, support, mu):
        return math.inf
    return chamfer_crossing(peg, support, mu, 1.0).axial_force


def _slope(peg: PegInHole, mu: float) -> tuple[float, float]:
    """A and B: the chamfer's push along the hole's axis and across it, per normal force."""
    require_friction(mu)
    sin, cos = math.sin(peg.chamfer_angle), math.cos(peg.chamfer_angle)
    return cos + mu * sin, sin - mu * cos


def _determinant(peg: PegInHole, support: Support, mu: float) -> float:
    along, across = _slope(peg, mu)
    lever = support.lateral_stiffness * support.centre_distance * peg.peg_radius
    return support.tip_stiffness * across - lever * along
