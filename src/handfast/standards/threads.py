"""ISO metric coarse threads M2 to M12: sizes, flank geometry and stress area.

Source: pitches ISO 261 and ISO 262 (looked up in public transcriptions, M2 and M2.5 among them); d2, d3 and
D1 from the basic profile of ISO 68-1 and ISO 724; stress area As = pi/4 ((d2 + d3)/2)^2 from ISO 898-1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from handfast.standards.tabled_value_error import not_in_table

# Nominal diameter and coarse pitch in mm.
_COARSE_MM: dict[str, tuple[float, float]] = {
    "M2": (2.0, 0.4),
    "M2.5": (2.5, 0.45),
    "M3": (3.0, 0.5),
    "M4": (4.0, 0.7),
    "M5": (5.0, 0.8),
    "M6": (6.0, 1.0),
    "M8": (8.0, 1.25),
    "M10": (10.0, 1.5),
    "M12": (12.0, 1.75),
}
THREAD_NAMES = tuple(_COARSE_MM)

# Height of the basic triangle over the pitch: sqrt(3)/2 (60 degree profile, ISO 68-1).
_HEIGHT = math.sqrt(3.0) / 2.0


@dataclass(frozen=True, slots=True)
class MetricThread:
    """A metric thread; diameters and pitch in m."""

    name: str
    diameter: float
    pitch: float

    @property
    def pitch_diameter(self) -> float:
        """d2 = d - 3/4 H [m]."""
        return self.diameter - 0.75 * _HEIGHT * self.pitch

    @property
    def minor_diameter(self) -> float:
        """D1 = d - 5/4 H [m]: the basic minor diameter of the tapped hole."""
        return self.diameter - 1.25 * _HEIGHT * self.pitch

    @property
    def root_diameter(self) -> float:
        """d3 = d - 17/12 H [m]: the root of the screw with its rounded profile."""
        return self.diameter - 17.0 / 12.0 * _HEIGHT * self.pitch

    @property
    def stress_diameter(self) -> float:
        """Diameter of the stress area, (d2 + d3)/2 [m]."""
        return 0.5 * (self.pitch_diameter + self.root_diameter)

    @property
    def stress_area(self) -> float:
        """As [m2]."""
        return math.pi / 4.0 * self.stress_diameter**2


def coarse_thread(name: str) -> MetricThread:
    """The coarse thread called `name`, such as `M4`; raises TabledValueError."""
    if name not in _COARSE_MM:
        raise not_in_table("ISO 262 coarse thread", name, _COARSE_MM)
    diameter, pitch = _COARSE_MM[name]
    return MetricThread(name, diameter * 1e-3, pitch * 1e-3)
