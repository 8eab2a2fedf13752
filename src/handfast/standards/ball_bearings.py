"""Boundary dimensions of deep groove ball bearings, ISO 15 series 18, 19, 10, 02 and the small ones beside
them.

Source: ISO 15 (bore, outside diameter, width; from memory; small shielded ones as their makers list them).
"""

from __future__ import annotations

from dataclasses import dataclass

# Bore, outside diameter and width in mm.
BALL_BEARINGS_MM: dict[str, tuple[float, float, float]] = {
    "623": (3, 10, 4), "624": (4, 13, 5), "625": (5, 16, 5), "626": (6, 19, 6), "607": (7, 19, 6),
    "608": (8, 22, 7), "609": (9, 24, 7), "627": (7, 22, 7), "629": (9, 26, 8),
    "683": (3, 7, 3), "685": (5, 11, 5), "686": (6, 13, 5), "688": (8, 16, 5),
    "6000": (10, 26, 8), "6001": (12, 28, 8), "6002": (15, 32, 9), "6003": (17, 35, 10),
    "6004": (20, 42, 12),
    "6200": (10, 30, 9), "6201": (12, 32, 10), "6202": (15, 35, 11), "6203": (17, 40, 12),
    "6204": (20, 47, 14),
    "6800": (10, 19, 5), "6801": (12, 21, 5), "6802": (15, 24, 5), "6803": (17, 26, 5), "6804": (20, 32, 7),
    "6900": (10, 22, 6), "6901": (12, 24, 6), "6902": (15, 28, 7), "6903": (17, 30, 7), "6904": (20, 37, 9),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class BallBearing:
    """A ball bearing; lengths in m."""

    name: str
    bore: float
    outside: float
    width: float


def ball_bearing_of(bore: float, outside: float, width: float, close: float = 20e-6) -> BallBearing | None:
    """The bearing with these dimensions [m], each to within `close` [m]; None if the table has none."""
    for name, sizes in BALL_BEARINGS_MM.items():
        if all(abs(a - b * 1e-3) <= close for a, b in zip((bore, outside, width), sizes, strict=True)):
            return BallBearing(name, bore, outside, width)
    return None
