"""Tolerance classes of ISO 286 written as a letter and a grade: `H7` for a hole, `g6` for a shaft."""

from __future__ import annotations

import re
from dataclasses import dataclass

from handfast.standards.hole_deviations import HOLE_LETTERS
from handfast.standards.it_grades import IT_UM
from handfast.standards.shaft_deviations import SHAFT_LETTERS
from handfast.standards.tabled_value_error import TabledValueError, not_in_table

_FORM = re.compile(r"([A-Za-z]{1,2})(\d{1,2})")


@dataclass(frozen=True, slots=True)
class ToleranceClass:
    """A fundamental deviation letter (capitals for holes) with a tolerance grade."""

    letter: str
    grade: int

    @property
    def is_hole(self) -> bool:
        """True for an internal feature (capital letter)."""
        return self.letter.isupper()

    def __str__(self) -> str:
        return f"{self.letter}{self.grade}"


def parse_tolerance_class(text: str) -> ToleranceClass:
    """Read `H7`, `g6`, `JS9` ...; raises TabledValueError with what would have been right."""
    found = _FORM.fullmatch(text.strip())
    if found is None:
        raise TabledValueError(
            "ISO 286 tolerance class",
            "a letter and a grade",
            text,
            "write for example H7 for a hole or g6 for a shaft",
        )
    letter, grade = found.group(1), int(found.group(2))
    known = HOLE_LETTERS if letter[0].isupper() else SHAFT_LETTERS
    if letter not in known:
        raise not_in_table("ISO 286 letter", letter, known)
    if grade not in IT_UM:
        raise not_in_table("ISO 286 tolerance grade", grade, IT_UM)
    return ToleranceClass(letter, grade)
