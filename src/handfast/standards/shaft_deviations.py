"""Fundamental deviations of shafts c to s of ISO 286-1 for nominal sizes of 1 to 500 mm.

Letters c to h give the upper deviation es (zero or negative), k to s the lower deviation ei (zero or
positive), js is symmetric. Source: ISO 286-1:2010 tables 4 and 5, read from public transcriptions (Narayana,
Kannaiah and Reddy, Machine Drawing, table 15.2; Machinery's Handbook, 31st edition, table 6a, whose holes C
to G mirror the shafts); r and s over 180 mm from the mirrored holes of Machine Drawing table 15.3.
"""

from __future__ import annotations

from handfast.standards.diameter_steps import intermediate_step, main_step
from handfast.standards.tabled_value_error import not_in_table

# Upper deviation es in um, without its minus sign, on the main steps.
_UPPER_MAIN: dict[str, tuple[float, ...]] = {
    "d": (20, 30, 40, 50, 65, 80, 100, 120, 145, 170, 190, 210, 230),
    "e": (14, 20, 25, 32, 40, 50, 60, 72, 85, 100, 110, 125, 135),
    "f": (6, 10, 13, 16, 20, 25, 30, 36, 43, 50, 56, 62, 68),
    "g": (2, 4, 5, 6, 7, 9, 10, 12, 14, 15, 17, 18, 20),
    "h": (0,) * 13,
}
# The same on the intermediate steps.
_UPPER_INTERMEDIATE: dict[str, tuple[float, ...]] = {
    "c": (60, 70, 80, 95, 95, 110, 110, 120, 130, 140, 150, 170, 180, 200, 210, 230, 240, 260, 280, 300, 330,
          360, 400, 440, 480),
}  # fmt: skip
# Lower deviation ei in um on the main steps; k holds for grades 4 to 7 and is zero in the others.
_LOWER_MAIN: dict[str, tuple[float, ...]] = {
    "k": (0, 1, 1, 1, 2, 2, 2, 3, 3, 4, 4, 4, 5),
    "m": (2, 4, 6, 7, 8, 9, 11, 13, 15, 17, 20, 21, 23),
    "n": (4, 8, 10, 12, 15, 17, 20, 23, 27, 31, 34, 37, 40),
    "p": (6, 12, 15, 18, 22, 26, 32, 37, 43, 50, 56, 62, 68),
}
_LOWER_INTERMEDIATE: dict[str, tuple[float, ...]] = {
    "r": (10, 15, 19, 23, 23, 28, 28, 34, 34, 41, 43, 51, 54, 63, 65, 68, 77, 80, 84, 94, 98, 108, 114, 126,
          132),
    "s": (14, 19, 23, 28, 28, 35, 35, 43, 43, 53, 59, 71, 79, 92, 100, 108, 122, 130, 140, 158, 170, 190, 208,
          232, 252),
}  # fmt: skip

UPPER_LETTERS = ("c", "d", "e", "f", "g", "h")
LOWER_LETTERS = ("k", "m", "n", "p", "r", "s")
SHAFT_LETTERS = (*UPPER_LETTERS, "js", *LOWER_LETTERS)


def upper_deviation(diameter: float, letter: str) -> float:
    """Upper deviation es [m] of a shaft c to h at nominal size `diameter` [m]."""
    if letter in _UPPER_MAIN:
        return -_UPPER_MAIN[letter][main_step(diameter)] * 1e-6
    if letter in _UPPER_INTERMEDIATE:
        return -_UPPER_INTERMEDIATE[letter][intermediate_step(diameter)] * 1e-6
    raise not_in_table("ISO 286-1 shaft letter with an upper fundamental deviation", letter, UPPER_LETTERS)


def lower_deviation(diameter: float, letter: str) -> float:
    """Lower deviation ei [m] of a shaft k to s at nominal size `diameter` [m]; k as for grades 4 to 7."""
    if letter in _LOWER_MAIN:
        return _LOWER_MAIN[letter][main_step(diameter)] * 1e-6
    if letter in _LOWER_INTERMEDIATE:
        return _LOWER_INTERMEDIATE[letter][intermediate_step(diameter)] * 1e-6
    raise not_in_table("ISO 286-1 shaft letter with a lower fundamental deviation", letter, LOWER_LETTERS)
