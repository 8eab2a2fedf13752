"""Sections of O-rings: ISO 3601-1 and the metric ones in common use.

Source: section diameters d2 of ISO 3601-1 (from memory); 1, 1.5, 2, 2.5, 3, 4 and 5 mm: common practice, no
source.
"""

from __future__ import annotations

ISO_SECTIONS_MM = (1.78, 2.62, 3.53, 5.33, 6.99)
METRIC_SECTIONS_MM = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0)


def o_ring_name(inner: float, section: float, close: float = 20e-6) -> str | None:
    """Such as `45 x 2` for an inner diameter and a section [m] that is tabled; None for another section."""
    for table, words in ((ISO_SECTIONS_MM, "ISO 3601-1, "), (METRIC_SECTIONS_MM, "")):
        for tabled in table:
            if abs(section - tabled * 1e-3) <= close:
                return f"{words}{1e3 * inner:.4g} x {tabled:g}"
    return None
