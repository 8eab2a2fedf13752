"""The fit between the two features of a pair, in numbers."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fit:
    """Diametral clearance [m], hole minus shaft: at least, at most (negative: interference).

    hole, shaft: the ISO 286 classes or "" where limits were written out; nominal [m].
    """

    nominal: float
    hole: str
    shaft: str
    clearance_min: float
    clearance_max: float
