"""Clearance holes for screws, ISO 273: fine (H12), medium (H13) and coarse (H14) series, M2 to M12.

Source: ISO 273:1979, looked up in a public transcription.
"""

from __future__ import annotations

from handfast.standards.tabled_value_error import not_in_table

CLEARANCE_HOLES_MM: dict[str, dict[str, float]] = {
    "M2": {"fine": 2.2, "medium": 2.4, "coarse": 2.6},
    "M2.5": {"fine": 2.7, "medium": 2.9, "coarse": 3.1},
    "M3": {"fine": 3.2, "medium": 3.4, "coarse": 3.6},
    "M4": {"fine": 4.3, "medium": 4.5, "coarse": 4.8},
    "M5": {"fine": 5.3, "medium": 5.5, "coarse": 5.8},
    "M6": {"fine": 6.4, "medium": 6.6, "coarse": 7.0},
    "M8": {"fine": 8.4, "medium": 9.0, "coarse": 10.0},
    "M10": {"fine": 10.5, "medium": 11.0, "coarse": 12.0},
    "M12": {"fine": 13.0, "medium": 13.5, "coarse": 14.5},
}


def clearance_hole(thread: str, series: str = "medium") -> float:
    """Diameter [m] of the clearance hole for `thread` (`M4`) in `series` (`fine`, `medium`, `coarse`)."""
    if thread not in CLEARANCE_HOLES_MM:
        raise not_in_table("ISO 273 clearance hole", thread, CLEARANCE_HOLES_MM)
    if series not in CLEARANCE_HOLES_MM[thread]:
        raise not_in_table("ISO 273 series", series, CLEARANCE_HOLES_MM[thread])
    return CLEARANCE_HOLES_MM[thread][series] * 1e-3
