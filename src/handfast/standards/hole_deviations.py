"""Fundamental deviations of holes of ISO 286-1, from the shaft of the same letter by the standard's rules.

C to H: EI = -es. K, M, N to grade 8 and P, R, S to grade 7: ES = -ei + (IT_n - IT_(n-1)), none of it up to 3
mm. K and N beyond grade 8: ES = 0 (N up to 3 mm: -ei). M beyond grade 8, P, R, S beyond grade 7: ES = -ei.
One exception: M6 over 250 up to 315 mm has ES = -9 um. Source: ISO 286-1:2010 tables 2 and 3, read from
Machinery's Handbook, 31st edition, table 6a, and Narayana, Kannaiah and Reddy, Machine Drawing, table 15.3.
"""

from __future__ import annotations

from handfast.standards.diameter_steps import MAIN_STEPS_MM, main_step
from handfast.standards.it_grades import it_width
from handfast.standards.shaft_deviations import LOWER_LETTERS, UPPER_LETTERS, lower_deviation, upper_deviation
from handfast.standards.tabled_value_error import not_in_table

LOWER_HOLE_LETTERS = tuple(letter.upper() for letter in UPPER_LETTERS)
UPPER_HOLE_LETTERS = tuple(letter.upper() for letter in LOWER_LETTERS)
HOLE_LETTERS = (*LOWER_HOLE_LETTERS, "JS", *UPPER_HOLE_LETTERS)

_FINEST_GRADE_WITH_SHIFT = 3
_COARSEST_GRADE_WITH_SHIFT = {"K": 8, "M": 8, "N": 8, "P": 7, "R": 7, "S": 7}
_STEP_250_TO_315 = MAIN_STEPS_MM.index(315)


def hole_lower_deviation(diameter: float, letter: str) -> float:
    """Lower deviation EI [m] of a hole C to H at nominal size `diameter` [m]."""
    if letter not in LOWER_HOLE_LETTERS:
        raise not_in_table(
            "ISO 286-1 hole letter with a lower fundamental deviation", letter, LOWER_HOLE_LETTERS
        )
    return -upper_deviation(diameter, letter.lower())


def grade_shift(diameter: float, grade: int) -> float:
    """The step IT_n - IT_(n-1) [m] that close holes are raised by; zero up to 3 mm."""
    if main_step(diameter) == 0:
        return 0.0
    return it_width(diameter, grade) - it_width(diameter, grade - 1)


def hole_upper_deviation(diameter: float, letter: str, grade: int) -> float:
    """Upper deviation ES [m] of a hole K to S in `grade` at nominal size `diameter` [m]."""
    if letter not in UPPER_HOLE_LETTERS:
        raise not_in_table(
            "ISO 286-1 hole letter with an upper fundamental deviation", letter, UPPER_HOLE_LETTERS
        )
    if letter == "M" and grade == 6 and main_step(diameter) == _STEP_250_TO_315:
        return -9e-6
    mirrored = -lower_deviation(diameter, letter.lower())
    if _FINEST_GRADE_WITH_SHIFT <= grade <= _COARSEST_GRADE_WITH_SHIFT[letter]:
        return mirrored + grade_shift(diameter, grade)
    if letter in ("K", "N") and grade > 8 and main_step(diameter) > 0:
        return 0.0
    return mirrored
