"""Two-point contact: how deep a tilted peg goes before both sides touch, and when that can wedge.

l tan th = 2R - r (cos th + sec th); for small angles th2 = c D/l. The largest tilt that enters is
arccos(d/D), about sqrt(2c). Wedging is possible where two-point contact begins above the friction cones: l2/d
< mu, th > c/mu. Source: Whitney, class notes of MIT OpenCourseWare 2.875, and J. Dyn. Sys. Meas. Control 104
(1982) 65-77.
"""

from __future__ import annotations

import math

from handfast.uncertainty.peg_in_hole import PegInHole, require_friction


def two_point_depth(peg: PegInHole, tilt: float) -> float:
    """Depth [m] at which a peg tilted by `tilt` [rad] touches on both sides; negative if it cannot enter."""
    angle = abs(tilt)
    if angle == 0.0:
        return math.inf
    room = 2.0 * peg.hole_radius - peg.peg_radius * (math.cos(angle) + 1.0 / math.cos(angle))
    return room / math.tan(angle)


def two_point_tilt(peg: PegInHole, depth: float) -> float:
    """Tilt [rad] of two-point contact at `depth` [m], small angles: 2 cR/l."""
    return 2.0 * peg.radial_clearance / depth


def largest_entry_tilt(peg: PegInHole) -> float:
    """Largest tilt at which the peg enters the hole at all, arccos(d/D) [rad]."""
    return math.acos(peg.peg_radius / peg.hole_radius)


def wedge_tilt(peg: PegInHole, mu: float) -> float:
    """Tilt at two-point contact beyond which the parts can wedge, c/mu [rad], small angles."""
    return peg.clearance_ratio / require_friction(mu)
