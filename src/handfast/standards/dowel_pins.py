"""Hardened dowel pins, ISO 8734 (and DIN 6325 alike in these sizes): diameter m6, with a lead-in chamfer.

Source: ISO 8734:1997 table 1. Chamfer length c for 4, 5 and 6 mm looked up, the others from memory; chamfer
of about 15 degrees to the axis (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from handfast.standards.limits_and_fits import Limits, limits
from handfast.standards.tabled_value_error import not_in_table

CHAMFER_LENGTH_MM: dict[float, float] = {
    1.0: 0.2, 1.5: 0.3, 2.0: 0.35, 2.5: 0.4, 3.0: 0.5, 4.0: 0.63, 5.0: 0.8, 6.0: 1.2, 8.0: 1.6,
    10.0: 2.0, 12.0: 2.5,
}  # fmt: skip
CHAMFER_ANGLE = math.radians(15.0)
TOLERANCE_CLASS = "m6"


@dataclass(frozen=True, slots=True)
class DowelPin:
    """A dowel pin: nominal diameter, limits of size and axial length of its end chamfer, all [m]."""

    diameter: float
    limits: Limits
    chamfer_length: float

    @property
    def chamfer_width(self) -> float:
        """Radial width of the end chamfer [m]: what it adds to the capture range."""
        return self.chamfer_length * math.tan(CHAMFER_ANGLE)


def dowel_pin(diameter: float) -> DowelPin:
    """The ISO 8734 pin of nominal `diameter` [m]; raises TabledValueError."""
    size = round(diameter * 1e3, 6)
    if size not in CHAMFER_LENGTH_MM:
        raise not_in_table("ISO 8734 dowel pin diameter [mm]", size, CHAMFER_LENGTH_MM)
    return DowelPin(diameter, limits(diameter, TOLERANCE_CLASS), CHAMFER_LENGTH_MM[size] * 1e-3)
