"""The unit table, against the definitions of the SI."""

from __future__ import annotations

import math

import pytest

from handfast.spatial.units import DIMENSIONS, EXAMPLE, UnitError, parse, show

# SI Brochure (9th ed., 2019): prefixes, tables 4 and 8 (minute, degree); inch = 25.4 mm exactly: NIST SP 811
# (2008), appendix B.8; revolutions a minute and percent by their meaning. All from memory.
DEFINED = {
    "1 m": 1.0, "1 cm": 0.01, "1 mm": 0.001, "1 um": 0.000001, "1 µm": 0.000001, "1 in": 0.0254,
    "180 deg": math.pi, "1 rad": 1.0, "1 mrad": 0.001,
    "1 kg": 1.0, "1 g": 0.001,
    "1 s": 1.0, "1 ms": 0.001, "1 min": 60.0,
    "1 N": 1.0, "1 kN": 1000.0,
    "1 N m": 1.0, "1 N mm": 0.001, "1 N cm": 0.01,
    "1 m/s": 1.0, "1 mm/s": 0.001,
    "180 deg/s": math.pi, "1 rad/s": 1.0, "60 rpm": 2 * math.pi,
    "1 m/s2": 1.0, "1 mm/s2": 0.001,
    "180 deg/s2": math.pi, "1 rad/s2": 1.0,
    "1 N/m": 1.0, "1 N/mm": 1000.0,
    "1 N m/rad": 1.0, "1 N mm/rad": 0.001, "1 N m/deg": 180 / math.pi,
    "1 Pa": 1.0, "1 MPa": 1e6, "1 GPa": 1e9, "1 N/mm2": 1e6,
    "1 kg/m3": 1.0, "1 g/cm3": 1000.0,
    "1 Hz": 1.0, "1 kHz": 1000.0,
    "1 turns": 2 * math.pi, "1 turn": 2 * math.pi,
    "1 %": 0.01, "1": 1.0,
}  # fmt: skip


def dimension_of(unit: str) -> str:
    return next(d for d, units in DIMENSIONS.items() if unit in units)


@pytest.mark.parametrize("text", DEFINED)
def test_unit_is_what_the_si_says(text: str) -> None:
    unit = text.partition(" ")[2]
    assert parse(text, dimension_of(unit)) == pytest.approx(DEFINED[text], rel=1e-15)


def test_every_unit_is_in_the_test() -> None:
    tested = {text.partition(" ")[2] for text in DEFINED}
    assert tested == {unit for units in DIMENSIONS.values() for unit in units}


def test_no_unit_has_two_dimensions() -> None:
    units = [unit for units in DIMENSIONS.values() for unit in units]
    assert len(units) == len(set(units))


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_example_of_a_message_is_right(dimension: str) -> None:
    assert math.isfinite(parse(EXAMPLE[dimension], dimension))


LENGTHS = {
    "10 mm": 0.01,
    "10mm": 0.01,
    "  +1.5e1   mm ": 0.015,
    ".5 mm": 0.0005,
    "-3. mm": -0.003,
    "0 mm": 0.0,
}
NO_LENGTHS = [
    *(
        "10",
        10,
        10.0,
        "mm",
        "",
        "10 m m",
        "10 deg",
        "1,5 mm",
        "ten mm",
        "nan mm",
        "inf mm",
        ".inf",
        "1e999 mm",
    ),
    *("0x10 mm", "10 MM", True, None, ["10 mm"], "1 mm 2 mm"),
]


@pytest.mark.parametrize("text", LENGTHS)
def test_ways_to_write_a_length(text: str) -> None:
    assert parse(text, "length") == pytest.approx(LENGTHS[text], rel=1e-15)


@pytest.mark.parametrize("text", NO_LENGTHS)
def test_what_is_no_length_is_refused_with_expected_and_found(text: object) -> None:
    with pytest.raises(UnitError, match=r"^expected a (finite )?length.*, found "):
        parse(text, "length")


def test_message_shows_form_and_units() -> None:
    with pytest.raises(UnitError) as told:
        parse("8", "length")
    assert str(told.value) == (
        "expected a length with its unit, such as '10 mm', found no unit in '8'; "
        "units of length: m, mm, cm, um, µm, in"
    )


def test_values_are_shown_with_their_unit() -> None:
    assert show(0.01, "mm") == "10 mm"
    assert show(math.pi / 2, "deg") == "90 deg"
    with pytest.raises(UnitError, match="unknown unit 'ell'"):
        show(1.0, "ell")
