"""Tolerances as drawings write them."""

from __future__ import annotations

import pytest

from handfast.geometry.cad.tolerance_text import WrittenTolerance, parse_tolerance

UM = 1e-6
Expected = tuple[float, str | None, float | None, float | None]
"""Nominal [mm], class, lower and upper deviation [m]."""
WRITTEN: list[tuple[str, Expected]] = [
    ("8 H7", (8, "H7", None, None)),
    ("8H7", (8, "H7", None, None)),
    ("⌀8 H7", (8, "H7", None, None)),
    ("Ø 12,5 g6", (12.5, "g6", None, None)),
    ("4x ⌀6.5 H13", (6.5, "H13", None, None)),
    ("20 js9", (20, "js9", None, None)),
    ("8 H7 (+0.015/0)", (8, "H7", None, None)),
    ("8 +0.015/0", (8, None, 0, 15 * UM)),
    ("8 0/-0.015", (8, None, -15 * UM, 0)),
    ("8 -0.005/-0.014", (8, None, -14 * UM, -5 * UM)),
    ("8 +0,015 0", (8, None, 0, 15 * UM)),
    ("8 mm +0.015/-0.005", (8, None, -5 * UM, 15 * UM)),
    ("25 ±0.1", (25, None, -100 * UM, 100 * UM)),
    ("25 +/-0.05", (25, None, -50 * UM, 50 * UM)),
]


@pytest.mark.parametrize(("text", "expected"), WRITTEN)
def test_a_size_with_its_tolerance(text: str, expected: Expected) -> None:
    found = parse_tolerance(text)
    assert isinstance(found, WrittenTolerance)
    nominal, fit, lower, upper = expected
    assert found.nominal == pytest.approx(nominal * 1e-3)
    assert found.fit == fit
    assert found.lower == (None if lower is None else pytest.approx(lower, abs=1e-12))
    assert found.upper == (None if upper is None else pytest.approx(upper, abs=1e-12))


@pytest.mark.parametrize("text", ["", "8", "deburr edges", "M4 x 12", "8 I7", "8 H19", "Ra 1.6", "2 of 3"])
def test_what_is_no_tolerance_is_left_alone(text: str) -> None:
    assert parse_tolerance(text) is None
