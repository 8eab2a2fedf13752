"""Pressure and press-in force of a cylindrical press fit: the thick-wall formula.

Hub and shaft are rings under the pressure p of the joint (Lame 1833). With D the joint's diameter, Q = (D /
outer diameter of the hub), q = (bore of the shaft / D) and Z the interference of the diameters,

    Z = p D [((1 + Q^2)/(1 - Q^2) + nu)/E_hub + ((1 + q^2)/(1 - q^2) - nu)/E_shaft],

and pushing it in by a length l takes mu p pi D l (DIN 7190-1, from memory; elastic, plane stress, roughness
not pressed flat, both of which make the real force smaller). nu is Poisson's ratio, 0.3 for every metal (0.27
to 0.35 in tables).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

POISSON = 0.3


@dataclass(frozen=True, slots=True)
class PressFit:
    """diameter of the joint, length of it [m]; hub, shaft: moduli of elasticity [Pa]; hub_diameter: outer
    [m], infinite for a hub that is part of a large body; bore: of a hollow shaft [m]."""

    diameter: float
    length: float
    hub: float
    shaft: float
    hub_diameter: float = math.inf
    bore: float = 0.0

    def __post_init__(self) -> None:
        if not 0 <= self.bore < self.diameter < self.hub_diameter or min(self.hub, self.shaft) <= 0:
            raise ValueError(
                f"press fit: expected bore < diameter < hub diameter and moduli above zero, found {self}"
            )

    def pressure(self, interference: float) -> float:
        """Of the joint [Pa], for an interference of the diameters [m]; none where there is clearance."""
        Q, q = (self.diameter / self.hub_diameter) ** 2, (self.bore / self.diameter) ** 2
        gives = ((1 + Q) / (1 - Q) + POISSON) / self.hub + ((1 + q) / (1 - q) - POISSON) / self.shaft
        return max(interference, 0.0) / (self.diameter * gives)

    def force(self, interference: float, friction: float) -> float:
        """That pushes it home [N]."""
        return friction * self.pressure(interference) * math.pi * self.diameter * self.length

    def interference(self, force: float, friction: float) -> float:
        """Largest that a force [N] pushes home [m]."""
        return force / self.force(1.0, friction)
