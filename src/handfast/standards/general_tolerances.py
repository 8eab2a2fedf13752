"""General tolerances of ISO 2768-1: linear sizes, chamfers and radii, angles.

Source: ISO 2768-1:1989 tables 1 to 3; classes f, m, c and v of table 1 looked up in public transcriptions;
tables 2 and 3 from memory.
"""

from __future__ import annotations

import math
from typing import TypeVar

from handfast.standards.tabled_value_error import TabledValueError, not_in_table

_Row = TypeVar("_Row")

_LINEAR_STEPS_MM = (3, 6, 30, 120, 400, 1000, 2000, 4000)
_LINEAR_MM: dict[str, tuple[float | None, ...]] = {
    "f": (0.05, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5, None),
    "m": (0.1, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2, 2.0),
    "c": (0.2, 0.3, 0.5, 0.8, 1.2, 2.0, 3.0, 4.0),
    "v": (None, 0.5, 1.0, 1.5, 2.5, 4.0, 6.0, 8.0),
}
# Chamfer heights and external radii: over 0.5 to 3, to 6, over 6 mm.
_EDGE_MM: dict[str, tuple[float, float, float]] = {
    "f": (0.2, 0.5, 1.0), "m": (0.2, 0.5, 1.0), "c": (0.4, 1.0, 2.0), "v": (0.4, 1.0, 2.0),
}  # fmt: skip
# Angles in minutes of arc by the length of the shorter leg: to 10, 50, 120, 400 mm and over.
_ANGLE_STEPS_MM = (10, 50, 120, 400, math.inf)
_ANGLE_MINUTES: dict[str, tuple[float, ...]] = {
    "f": (60, 30, 20, 10, 5), "m": (60, 30, 20, 10, 5), "c": (90, 60, 30, 15, 10),
    "v": (180, 120, 60, 30, 20),
}  # fmt: skip


def linear_tolerance(size: float, tolerance_class: str = "m") -> float:
    """Half width [m] of the general tolerance on a linear `size` [m]: the drawing means size +- this."""
    row = _row("ISO 2768-1 class", _LINEAR_MM, tolerance_class)
    for upper_end, value in zip(_LINEAR_STEPS_MM, row, strict=True):
        if 0.5 - 1e-9 <= size * 1e3 <= upper_end + 1e-9:
            if value is not None:
                return value * 1e-3
            break
    raise TabledValueError(
        "ISO 2768-1 table 1", f"a size that class {tolerance_class} covers", f"{size * 1e3:g} mm",
        "write a tolerance beside the size",
    )  # fmt: skip


def edge_tolerance(size: float, tolerance_class: str = "m") -> float:
    """Half width [m] of the general tolerance on a chamfer height or external radius of `size` [m]."""
    row = _row("ISO 2768-1 class", _EDGE_MM, tolerance_class)
    if size * 1e3 < 0.5 - 1e-9:
        raise TabledValueError(
            "ISO 2768-1 table 2", "0.5 mm or more", f"{size * 1e3:g} mm", "write a tolerance beside the size"
        )
    return row[0 if size <= 3.0e-3 + 1e-12 else 1 if size <= 6.0e-3 + 1e-12 else 2] * 1e-3


def angle_tolerance(shorter_leg: float, tolerance_class: str = "m") -> float:
    """Half width [rad] of the general tolerance on an angle whose shorter leg is `shorter_leg` [m] long."""
    row = _row("ISO 2768-1 class", _ANGLE_MINUTES, tolerance_class)
    step = next(i for i, upper_end in enumerate(_ANGLE_STEPS_MM) if shorter_leg * 1e3 <= upper_end + 1e-9)
    return math.radians(row[step] / 60.0)


def _row(place: str, table: dict[str, _Row], key: str) -> _Row:
    if key not in table:
        raise not_in_table(place, key, table)
    return table[key]
