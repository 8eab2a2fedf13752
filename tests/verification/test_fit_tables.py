"""Fits of ISO 286 against published tables.

Looked up in public transcriptions unless a line says otherwise: grades and shaft deviations (two sources
agree), Bhandari, Design of Machine Elements, example 3.3; Narayana, Kannaiah and Reddy, Machine Drawing,
tables 15.2 and 15.3; Machinery's Handbook, 31st edition, table 6a (BS 4500).
"""

from __future__ import annotations

import pytest

from handfast.standards.bearings import bore_deviations
from handfast.standards.dowel_pins import dowel_pin
from handfast.standards.general_tolerances import linear_tolerance
from handfast.standards.hole_deviations import grade_shift
from handfast.standards.it_grades import it_width
from handfast.standards.limits_and_fits import Limits, clearance, deviations, limits, parse_fit

MM = 1e-3
UM = 1e-6


def micrometres(found: Limits) -> tuple[float, float]:
    return round(found.lower / UM, 6), round(found.upper / UM, 6)


@pytest.mark.parametrize(
    ("up_to_mm", "widths"),
    [
        (6, {6: 8, 7: 12, 8: 18, 9: 30, 11: 75}),
        (10, {6: 9, 7: 15, 8: 22, 9: 36, 11: 90}),
        (18, {6: 11, 7: 18, 8: 27, 9: 43, 11: 110}),
        (30, {6: 13, 7: 21, 8: 33, 9: 52, 11: 130}),
    ],
)
def test_tolerance_grades(up_to_mm: float, widths: dict[int, float]) -> None:
    found = {grade: round(it_width(up_to_mm * MM, grade) / UM, 6) for grade in widths}
    assert found == widths


@pytest.mark.parametrize(
    ("size_mm", "upper", "lower"),
    [
        (5, {"f": -10, "g": -4, "h": 0}, {"k": 1, "m": 4, "n": 8, "p": 12}),
        (8, {"f": -13, "g": -5, "h": 0}, {"k": 1, "m": 6, "n": 10, "p": 15}),
        (14, {"f": -16, "g": -6, "h": 0}, {"k": 1, "m": 7, "n": 12, "p": 18}),
        (25, {"f": -20, "g": -7, "h": 0}, {"k": 2, "m": 8, "n": 15, "p": 22}),
    ],
)
def test_shaft_deviations(size_mm: float, upper: dict[str, int], lower: dict[str, int]) -> None:
    assert {x: round(deviations(size_mm * MM, f"{x}6").upper / UM, 6) for x in upper} == upper
    assert {x: round(deviations(size_mm * MM, f"{x}6").lower / UM, 6) for x in lower} == lower


@pytest.mark.parametrize(
    ("fit", "at_6", "at_10", "at_20"),
    [
        ("H7/g6", (4, 24), (5, 29), (7, 41)),
        ("H7/f7", (10, 34), (13, 43), (20, 62)),
        ("H7/k6", (-9, 11), (-10, 14), (-15, 19)),
        ("H7/p6", (-20, 0), (-24, 0), (-35, -1)),
        ("H8/f7", (10, 40), (13, 50), (20, 74)),
    ],
)
def test_clearances_of_common_fits(
    fit: str, at_6: tuple[int, int], at_10: tuple[int, int], at_20: tuple[int, int]
) -> None:
    hole, shaft = parse_fit(fit)
    for size, expected in ((6, at_6), (10, at_10), (20, at_20)):
        assert micrometres(clearance(size * MM, hole, shaft)) == expected


@pytest.mark.parametrize(
    ("size_mm", "name", "expected"),
    [
        (29, "h7", (-21, 0)),
        (29, "H7", (0, 21)),
        (50, "H7", (0, 25)),  # Bhandari, example 3.3
        (50, "s6", (43, 59)),  # Bhandari, example 3.3
        (25, "P7", (-35, -14)),  # Machine Drawing, the example beneath table 15.3: ES = -14
        (25, "k6", (2, 15)),
        (45, "k6", (2, 18)),
        (70, "k6", (2, 21)),
        (100, "k6", (3, 25)),
        (10, "K7", (-10, 5)),  # from memory, as the next five
        (20, "M7", (-21, 0)),
        (20, "N7", (-28, -7)),
        (10, "N9", (-36, 0)),
        (20, "R7", (-41, -20)),
        (20, "S7", (-48, -27)),
        (300, "M6", (-41, -9)),  # the standard's one exception, Machine Drawing table 15.3
        (24, "k8", (0, 33)),  # k is zero above grade 7
        (3, "K7", (-10, 0)),  # no shift up to 3 mm
        (25, "P8", (-55, -22)),  # P has no shift beyond grade 7 (from memory)
        (5, "JS7", (-6, 6)),
    ],
)
def test_single_classes(size_mm: float, name: str, expected: tuple[int, int]) -> None:
    assert micrometres(deviations(size_mm * MM, name)) == expected


@pytest.mark.parametrize(
    ("size_mm", "shifts"),
    [
        (190, (3, 4, 6, 9, 17, 26)),
        (260, (4, 4, 7, 9, 20, 29)),
        (330, (4, 5, 7, 11, 21, 32)),
        (450, (5, 5, 7, 13, 23, 34)),
    ],
)
def test_shift_of_close_holes_for_grades_3_to_8(size_mm: float, shifts: tuple[int, ...]) -> None:
    # Machine Drawing, table 15.3, right-hand columns: also checks grades IT2 to IT8 of the rows from memory.
    assert tuple(round(grade_shift(size_mm * MM, grade) / UM, 6) for grade in range(3, 9)) == shifts


def test_dowel_pins() -> None:
    for size in (4, 5, 6):
        found = dowel_pin(size * MM)
        assert micrometres(Limits(found.limits.lower - size * MM, found.limits.upper - size * MM)) == (4, 12)
    assert [round(dowel_pin(size * MM).chamfer_length / MM, 6) for size in (4, 5, 6)] == [0.63, 0.8, 1.2]


def test_bearing_bores_of_the_normal_class() -> None:
    assert micrometres(bore_deviations(10 * MM)) == (-8, 0)
    assert micrometres(bore_deviations(18 * MM)) == (-8, 0)
    assert micrometres(bore_deviations(25 * MM)) == (-10, 0)


def test_general_tolerances_class_m() -> None:
    found = [linear_tolerance(size * MM) / MM for size in (2, 3, 5, 6, 6.1, 30, 31, 120)]
    assert found == pytest.approx([0.1, 0.1, 0.1, 0.1, 0.2, 0.2, 0.3, 0.3])


def test_limits_of_size_are_the_nominal_size_plus_the_deviations() -> None:
    found = limits(29 * MM, "h7")
    assert (found.lower, found.upper) == pytest.approx((28.979 * MM, 29.0 * MM), abs=1e-12)


# Machinery's Handbook, 31st edition, table 6a, to 225 mm, Machine Drawing, table 15.3, above: EI of C to G.
CLEARANCE_HOLES_UM = {
    3: (60, 20, 14, 6, 2), 6: (70, 30, 20, 10, 4), 10: (80, 40, 25, 13, 5), 14: (95, 50, 32, 16, 6),
    18: (95, 50, 32, 16, 6), 24: (110, 65, 40, 20, 7), 30: (110, 65, 40, 20, 7), 40: (120, 80, 50, 25, 9),
    50: (130, 80, 50, 25, 9), 65: (140, 100, 60, 30, 10), 80: (150, 100, 60, 30, 10),
    100: (170, 120, 72, 36, 12),
    120: (180, 120, 72, 36, 12), 140: (200, 145, 85, 43, 14), 160: (210, 145, 85, 43, 14),
    180: (230, 145, 85, 43, 14), 200: (240, 170, 100, 50, 15), 225: (260, 170, 100, 50, 15),
    250: (280, 170, 100, 50, 15), 280: (300, 190, 110, 56, 17), 315: (330, 190, 110, 56, 17),
    355: (360, 210, 125, 62, 18), 400: (400, 210, 125, 62, 18), 450: (440, 230, 135, 68, 20),
    500: (480, 230, 135, 68, 20),
}  # fmt: skip
# Machine Drawing, table 15.2, 3 to 180 mm: ei of m, n, p, r, s.
CLOSE_SHAFTS_UM = {
    6: (4, 8, 12, 15, 19), 10: (6, 10, 15, 19, 23), 14: (7, 12, 18, 23, 28), 24: (8, 15, 22, 28, 35),
    40: (9, 17, 26, 34, 43), 65: (11, 20, 32, 41, 53), 80: (11, 20, 32, 43, 59), 100: (13, 23, 37, 51, 71),
    120: (13, 23, 37, 54, 79), 140: (15, 27, 43, 63, 92), 160: (15, 27, 43, 65, 100),
    180: (15, 27, 43, 68, 108),
}  # fmt: skip
# Machine Drawing, table 15.3, over 180 mm: ES of P, R, S beyond grade 7.
CLOSE_HOLES_UM = {
    200: (50, 77, 122), 225: (50, 80, 130), 250: (50, 84, 140), 280: (56, 94, 158), 315: (56, 98, 170),
    355: (62, 108, 190), 400: (62, 114, 208), 450: (68, 126, 232), 500: (68, 132, 252),
}  # fmt: skip


def test_clearance_holes_c_to_g_over_the_whole_range() -> None:
    for size, expected in CLEARANCE_HOLES_UM.items():
        found = tuple(round(deviations(size * MM, f"{letter}8").lower / UM, 6) for letter in "CDEFG")
        assert found == expected, size


def test_close_shafts_m_to_s() -> None:
    for size, expected in CLOSE_SHAFTS_UM.items():
        found = tuple(round(deviations(size * MM, f"{letter}6").lower / UM, 6) for letter in "mnprs")
        assert found == expected, size


def test_close_holes_p_to_s_beyond_grade_7() -> None:
    for size, expected in CLOSE_HOLES_UM.items():
        found = tuple(round(-deviations(size * MM, f"{letter}9").upper / UM, 6) for letter in "PRS")
        assert found == expected, size


@pytest.mark.parametrize(
    ("size_mm", "k", "m", "n"),
    [
        (5, -1, -4, -8),
        (12, -1, -7, -12),
        (28, -2, -8, -15),
        (60, -2, -11, -20),
        (110, -3, -13, -23),
        (170, -3, -15, -27),
    ],
)
def test_holes_k_m_n_to_grade_8_before_the_shift(size_mm: float, k: int, m: int, n: int) -> None:
    # Machinery's Handbook, table 6a: -1 + D, -4 + D, -8 + D and so on.
    shift = grade_shift(size_mm * MM, 8) / UM
    found = [deviations(size_mm * MM, f"{letter}8").upper / UM - shift for letter in "KMN"]
    assert found == pytest.approx([k, m, n], abs=1e-6)
    assert [deviations(size_mm * MM, f"{letter}9").upper / UM for letter in "MN"] == pytest.approx(
        [m, 0], abs=1e-6
    )
