"""Tolerances as they are written beside a dimension: `8 H7`, `8 +0.015/0`, `8 ±0.1`."""

from __future__ import annotations

import re
from dataclasses import dataclass

MM = 1e-3
_NUMBER = r"[0-9]+(?:[.,][0-9]+)?"
_HEAD = rf"^\s*(?:[0-9]+\s*[xX×]\s*)?(?:[⌀Øø∅]|%%c|DIA\.?|R)?\s*({_NUMBER})\s*(?:mm)?\s*"
_CLASS = re.compile(_HEAD + r"([A-Za-z]{1,2})\s?([0-9]{1,2})(?=\s|\(|$)")
_PLUS_MINUS = re.compile(_HEAD + rf"(?:±|\+/-|\+-)\s*({_NUMBER})")
_SIGNED = re.compile(_HEAD + rf"\(?\s*([+-]\s*{_NUMBER}|0)\s*(?:/|;|\s)\s*([+-]\s*{_NUMBER}|0(?:[.,]0+)?)")
_LETTERS = re.compile(r"(?:CD|cd|EF|ef|FG|fg|JS|js|ZA|za|ZB|zb|ZC|zc|[A-HJ-NP-Va-hj-np-vX-Zx-z])$")


@dataclass(frozen=True, slots=True)
class WrittenTolerance:
    """nominal [m]; fit: ISO 286 class or None; lower, upper: deviations [m] or None."""

    nominal: float
    fit: str | None
    lower: float | None
    upper: float | None


def parse_tolerance(text: str) -> WrittenTolerance | None:
    """What such a text says, in millimetres as drawings are; None if it is no tolerance of a size.

    Where a class and its deviations both stand (`8 H7 (+0.015/0)`), the class is taken.
    """
    for pattern in (_CLASS, _PLUS_MINUS, _SIGNED):
        found = pattern.match(text)
        if found is None:
            continue
        nominal = _number(found[1])
        if pattern is _CLASS:
            if _LETTERS.match(found[2]) and 1 <= int(found[3]) <= 18:
                return WrittenTolerance(nominal, f"{found[2]}{int(found[3])}", None, None)
            continue
        if pattern is _PLUS_MINUS:
            apart = _number(found[2])
            return WrittenTolerance(nominal, None, -apart, apart)
        ends = sorted((_number(found[2]), _number(found[3])))
        return WrittenTolerance(nominal, None, *ends)
    return None


def _number(text: str) -> float:
    return float(text.replace(" ", "").replace(",", ".")) * MM
