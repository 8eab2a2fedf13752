"""A quantity with its unit as a regular expression that Python, editors and JSON Schema all understand."""

from __future__ import annotations

import re

from handfast.files.spec import Sign
from handfast.spatial import units

NUMBER = r"(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_ZERO = r"(?:0+\.?0*|\.0+)(?:[eE][+-]?[0-9]+)?"


def quantity_pattern(dimension: str, sign: Sign) -> str:
    """Of text such as "10 mm": a number, the units of that dimension, and no sign where none makes sense."""
    known = sorted((re.escape(unit) for unit in units.DIMENSIONS[dimension] if unit), key=len, reverse=True)
    unit = "|".join(known).replace(r"\ ", " ")
    optional = "?" if "" in units.DIMENSIONS[dimension] else ""
    ahead = {
        "any": "[+-]?",
        "not negative": rf"(?:\+|-(?={_ZERO}\s*[^0-9.eE]))?",
        "positive": rf"(?!\+?{_ZERO}\s*(?:[^0-9.eE\s]|$))\+?",
    }[sign]
    return rf"^\s*{ahead}{NUMBER}\s*(?:{unit}){optional}\s*$"
