from __future__ import annotations

import pytest

from handfast.standards.tabled_value_error import TabledValueError
from handfast.standards.tolerance_class import ToleranceClass, parse_tolerance_class


@pytest.mark.parametrize(
    ("text", "letter", "grade", "is_hole"),
    [("H7", "H", 7, True), (" g6 ", "g", 6, False), ("JS9", "JS", 9, True), ("js13", "js", 13, False)],
)
def test_reads_letter_and_grade(text: str, letter: str, grade: int, is_hole: bool) -> None:
    found = parse_tolerance_class(text)
    assert found == ToleranceClass(letter, grade)
    assert found.is_hole is is_hole
    assert str(found) == text.strip()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("7H", "write for example H7"),
        ("", "write for example H7"),
        ("Q7", "C, D, E, F, G, H, JS, K"),
        ("q7", "c, d, e, f, g, h, js, k"),
        ("Js7", "JS"),
        ("H17", "1, 2, 3"),
        ("H7/g6", "a letter and a grade"),
    ],
)
def test_says_what_would_have_been_right(text: str, says: str) -> None:
    with pytest.raises(TabledValueError, match=says):
        parse_tolerance_class(text)
