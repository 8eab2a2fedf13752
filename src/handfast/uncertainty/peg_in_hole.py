"""The nouns of parts mating: a round peg and hole with a chamfer, and the compliant support that holds the
peg.

Symbols and signs as in Whitney, Quasi-static assembly of compliantly supported rigid parts, J. Dyn. Sys.
Meas. Control 104 (1982) 65-77 (from memory): the peg's tip is off the hole's axis by e; a positive tilt leans
the peg so that its tip moves to the negative side as seen from the compliance centre, a distance Lg behind
the tip.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PegInHole:
    """Geometry of a pair. Lengths in m.

    depth: insertion depth below the chamfer; chamfer_width: radial width W of hole and peg chamfers together;
    chamfer_angle: slope alpha from the part's face [rad].
    Raises ValueError unless 0 < peg_radius < hole_radius: an interference fit is pressed, not slid.
    """

    hole_radius: float
    peg_radius: float
    depth: float
    chamfer_width: float = 0.0
    chamfer_angle: float = math.pi / 4

    def __post_init__(self) -> None:
        if not 0.0 < self.peg_radius < self.hole_radius:
            raise ValueError(
                f"peg in hole: expected 0 < peg radius < hole radius, found {self.peg_radius} and "
                f"{self.hole_radius} m; a fit with interference is a press fit"
            )
        if not (self.depth > 0.0 and self.chamfer_width >= 0.0 and 0.0 < self.chamfer_angle < math.pi / 2):
            raise ValueError(
                f"peg in hole: expected depth > 0, chamfer width >= 0, chamfer angle between 0 and 90 deg, "
                f"found {self.depth} m, {self.chamfer_width} m, {math.degrees(self.chamfer_angle)} deg"
            )

    @property
    def radial_clearance(self) -> float:
        """CR = R - r [m]."""
        return self.hole_radius - self.peg_radius

    @property
    def clearance_ratio(self) -> float:
        """Relative clearance c = (D - d)/D."""
        return self.radial_clearance / self.hole_radius

    @property
    def capture_radius(self) -> float:
        """Largest lateral tip error that meets the chamfer and not the face, W + cR [m]."""
        return self.chamfer_width + self.radial_clearance


@dataclass(frozen=True, slots=True)
class Support:
    """Compliance of what holds the peg.

    lateral_stiffness: Kx [N/m]; angular_stiffness: Ktheta [N m/rad]; centre_distance: Lg from the tip back to
    the compliance centre [m], negative if the centre lies beyond the tip.
    """

    lateral_stiffness: float
    angular_stiffness: float
    centre_distance: float

    def __post_init__(self) -> None:
        if not (self.lateral_stiffness > 0.0 and self.angular_stiffness > 0.0):
            raise ValueError(
                f"support: expected positive stiffnesses [N/m, N m/rad], found {self.lateral_stiffness} and "
                f"{self.angular_stiffness}"
            )

    @property
    def tip_stiffness(self) -> float:
        """Stiffness against turning about the tip, Ktheta + Kx Lg^2 [N m/rad]."""
        return self.angular_stiffness + self.lateral_stiffness * self.centre_distance**2

    @property
    def coupling(self) -> float:
        """Tilt that pushing the tip aside brings, S = Kx Lg/(Kx Lg^2 + Ktheta) [rad/m]."""
        return self.lateral_stiffness * self.centre_distance / self.tip_stiffness


def require_friction(mu: float) -> float:
    """The friction coefficient itself; raises ValueError unless 0 < mu < 2."""
    if not 0.0 < mu < 2.0:
        raise ValueError(f"friction coefficient: expected 0 < mu < 2, found {mu}")
    return mu
