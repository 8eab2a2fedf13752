"""Quantities as the trade prints them, with the unit written."""

from __future__ import annotations

import math
import re

# A number and the unit behind it, which no line break may part.
_WITH_UNIT = re.compile(
    r"(?<=[\d.]) (?=(?:mm|µm|m|deg|s|N|g|kg|kN|rad|turns|%|times)\b|%)|(?<=\bN) (?=m\b)|(?<=±) "
)


def millimetres(value: float, digits: int = 2) -> str:
    """A length [m] in mm, without digits that say nothing."""
    text = f"{value * 1e3:.{digits}f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text) + " mm"


def micrometres(low: float, high: float) -> str:
    """A range of lengths [m] in µm, with signs: a clearance above zero, an interference below."""
    return f"{low * 1e6:+.0f} to {high * 1e6:+.0f} µm"


def unbroken(text: str) -> str:
    """For people's eyes: numbers stay with their units."""
    return _WITH_UNIT.sub("\u00a0", text)


def degrees(value: float) -> str:
    """An angle [rad] in degrees."""
    text = f"{math.degrees(value):.1f}"
    return (text.removesuffix(".0")) + " deg"


def per_million(low: float, high: float) -> str:
    """How many of a million fail where the chance of success [0..1] lies from low to high."""
    most, least = 1e6 * (1 - low), 1e6 * (1 - high)
    if most < 1:
        return "under 1"
    if round(least) == round(most):
        return f"{most:.0f}"
    return f"{least:.0f} to {most:.0f}" if least >= 1 else f"up to {most:.0f}"
