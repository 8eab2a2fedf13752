"""The fixed unit table: quantities in files carry their unit, everything inside is SI.

A table of our own because a general unit library costs half a second at start-up.
"""

from __future__ import annotations

import math
import re

DIMENSIONS: dict[str, dict[str, float]] = {
    "length": {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "um": 1e-6, "µm": 1e-6, "in": 0.0254},
    "angle": {"deg": math.pi / 180, "rad": 1.0, "mrad": 1e-3},
    "mass": {"kg": 1.0, "g": 1e-3},
    "time": {"s": 1.0, "ms": 1e-3, "min": 60.0},
    "force": {"N": 1.0, "kN": 1e3},
    "torque": {"N m": 1.0, "N mm": 1e-3, "N cm": 1e-2},
    "speed": {"m/s": 1.0, "mm/s": 1e-3},
    "angular speed": {"deg/s": math.pi / 180, "rad/s": 1.0, "rpm": 2 * math.pi / 60},
    "acceleration": {"m/s2": 1.0, "mm/s2": 1e-3},
    "angular acceleration": {"deg/s2": math.pi / 180, "rad/s2": 1.0},
    "stiffness": {"N/m": 1.0, "N/mm": 1e3},
    "angular stiffness": {"N m/rad": 1.0, "N mm/rad": 1e-3, "N m/deg": 180 / math.pi},
    "pressure": {"Pa": 1.0, "MPa": 1e6, "GPa": 1e9, "N/mm2": 1e6},
    "density": {"kg/m3": 1.0, "g/cm3": 1e3},
    "frequency": {"Hz": 1.0, "kHz": 1e3},
    "turns": {"turns": 2 * math.pi, "turn": 2 * math.pi},
    "ratio": {"%": 0.01, "": 1.0},
}
EXAMPLE = {
    "length": "10 mm", "angle": "30 deg", "mass": "120 g", "time": "0.4 s", "force": "20 N",
    "torque": "1.8 N m", "speed": "20 mm/s", "angular speed": "90 deg/s", "acceleration": "2 m/s2",
    "angular acceleration": "400 deg/s2", "stiffness": "7 N/mm", "angular stiffness": "53 N m/rad",
    "pressure": "210 GPa", "density": "2.7 g/cm3", "turns": "2 turns", "frequency": "1000 Hz",
    "ratio": "0.12",
}  # fmt: skip

_QUANTITY = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(\S.*?)?\s*")


class UnitError(ValueError):
    """A quantity that cannot be read: what was expected and what was found stand in the message."""


def parse(text: object, dimension: str) -> float:
    """A quantity such as "10 mm" -> SI value. Raises UnitError, whose message shows the right form."""
    article = "an" if dimension[0] in "aeiou" else "a"
    expected = f"{article} {dimension} with its unit, such as {EXAMPLE[dimension]!r}"
    units = DIMENSIONS[dimension]
    if isinstance(text, bool) or not isinstance(text, (str, int, float)):
        raise UnitError(f"expected {expected}, found {text!r}")
    match = _QUANTITY.fullmatch(str(text))
    if match is None:
        raise UnitError(f"expected {expected}, found {text!r}")
    number, unit = float(match[1]), match[2] or ""
    if unit not in units:
        known = ", ".join(u for u in units if u)
        what = f"the unit {unit!r}" if unit else "no unit"
        raise UnitError(f"expected {expected}, found {what} in {text!r}; units of {dimension}: {known}")
    value = number * units[unit]
    if not math.isfinite(value):
        raise UnitError(f"expected a finite {dimension}, found {text!r}")
    return value


def show(value: float, unit: str, digits: int = 4) -> str:
    """An SI value in the given unit, the unit written: show(0.01, "mm") -> "10 mm"."""
    for units in DIMENSIONS.values():
        if unit in units:
            return f"{value / units[unit]:.{digits}g} {unit}"
    raise UnitError(f"unknown unit {unit!r}")
