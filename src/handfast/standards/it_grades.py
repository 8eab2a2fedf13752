"""Standard tolerance grades IT1 to IT14 of ISO 286-1 for nominal sizes of 1 to 500 mm.

Source: ISO 286-1:2010 table 1. IT5 to IT9 and IT11 read from public transcriptions (two agree); IT1 to IT4,
IT10 and IT12 to IT14 from memory, checked in the tests against the standard's own formulas (IT6 = 10 i and so
on) and against the differences IT_n - IT_(n-1) that the standard prints for holes K to ZC.
"""

from __future__ import annotations

from handfast.standards.diameter_steps import main_step
from handfast.standards.tabled_value_error import not_in_table

# Grade -> width in um, one value for each step of diameter_steps.MAIN_STEPS_MM.
IT_UM: dict[int, tuple[float, ...]] = {
    1: (0.8, 1, 1, 1.2, 1.5, 1.5, 2, 2.5, 3.5, 4.5, 6, 7, 8),
    2: (1.2, 1.5, 1.5, 2, 2.5, 2.5, 3, 4, 5, 7, 8, 9, 10),
    3: (2, 2.5, 2.5, 3, 4, 4, 5, 6, 8, 10, 12, 13, 15),
    4: (3, 4, 4, 5, 6, 7, 8, 10, 12, 14, 16, 18, 20),
    5: (4, 5, 6, 8, 9, 11, 13, 15, 18, 20, 23, 25, 27),
    6: (6, 8, 9, 11, 13, 16, 19, 22, 25, 29, 32, 36, 40),
    7: (10, 12, 15, 18, 21, 25, 30, 35, 40, 46, 52, 57, 63),
    8: (14, 18, 22, 27, 33, 39, 46, 54, 63, 72, 81, 89, 97),
    9: (25, 30, 36, 43, 52, 62, 74, 87, 100, 115, 130, 140, 155),
    10: (40, 48, 58, 70, 84, 100, 120, 140, 160, 185, 210, 230, 250),
    11: (60, 75, 90, 110, 130, 160, 190, 220, 250, 290, 320, 360, 400),
    12: (100, 120, 150, 180, 210, 250, 300, 350, 400, 460, 520, 570, 630),
    13: (140, 180, 220, 270, 330, 390, 460, 540, 630, 720, 810, 890, 970),
    14: (250, 300, 360, 430, 520, 620, 740, 870, 1000, 1150, 1300, 1400, 1550),
}


def it_width(diameter: float, grade: int) -> float:
    """Width of tolerance grade IT`grade` [m] for a nominal size `diameter` [m].

    Raises TabledValueError for a grade or size outside the table.
    """
    if grade not in IT_UM:
        raise not_in_table("ISO 286-1 tolerance grade", grade, IT_UM)
    return IT_UM[grade][main_step(diameter)] * 1e-6
