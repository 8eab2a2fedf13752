"""The jamming diagram: which forces and moments at the peg's tip push it further in during two-point contact.

With lam = l/(2 r mu) the peg slides in while (Fx/Fz, M/(r Fz)) lies inside the parallelogram with corners
(-1/mu, 2 lam + 1), (1/mu, -1), (1/mu, -(2 lam + 1)), (-1/mu, 1). M acts about the tip.
Source: Whitney, J. Dyn. Sys. Meas. Control 104 (1982) 65-77, and class notes of MIT OpenCourseWare 2.875.
"""

from __future__ import annotations

from handfast.uncertainty.peg_in_hole import PegInHole, require_friction


def jamming_parameter(peg: PegInHole, mu: float, depth: float) -> float:
    """Return lam = l/(2 r mu) at `depth` [m]."""
    return depth / (2.0 * peg.peg_radius * require_friction(mu))


def jamming_corners(peg: PegInHole, mu: float, depth: float) -> tuple[tuple[float, float], ...]:
    """Corners (Fx/Fz, M/(r Fz)) of the region in which the peg slides, counted round."""
    lam = jamming_parameter(peg, mu, depth)
    return (
        (-1.0 / mu, 2.0 * lam + 1.0),
        (1.0 / mu, -1.0),
        (1.0 / mu, -(2.0 * lam + 1.0)),
        (-1.0 / mu, 1.0),
    )


def slides(peg: PegInHole, mu: float, depth: float, force_ratio: float, moment_ratio: float) -> bool:
    """True where (`force_ratio` Fx/Fz, `moment_ratio` M/(r Fz)) lies inside the parallelogram."""
    lam = jamming_parameter(peg, mu, depth)
    slanted = moment_ratio + mu * (1.0 + lam) * force_ratio
    return abs(force_ratio) < 1.0 / mu and abs(slanted) < lam
