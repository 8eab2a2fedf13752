"""Nominal size steps of ISO 286-1, 'over, up to and including', 0 to 500 mm.

Source: ISO 286-1:2010 tables 1 to 5 (main steps for the grades and most letters, intermediate steps for c, r
and s), read from public transcriptions (Machinery's Handbook, 31st edition, table 6a; Narayana, Kannaiah and
Reddy, Machine Drawing, tables 15.1 to 15.3).
"""

from __future__ import annotations

import math
from bisect import bisect_left

from handfast.standards.tabled_value_error import TabledValueError

MAIN_STEPS_MM = (3, 6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500)
INTERMEDIATE_STEPS_MM = (
    3, 6, 10, 14, 18, 24, 30, 40, 50, 65, 80, 100, 120, 140, 160, 180, 200, 225, 250, 280, 315, 355, 400, 450,
    500,
)  # fmt: skip
SMALLEST_MM = 1.0
LARGEST_MM = 500.0

# A size typed as 10 mm may arrive as 10.000000000000002: sizes closer than this to a step end belong to the
# step.
_STEP_END_SLACK_MM = 1e-9


def millimetres(diameter: float) -> float:
    """Nominal size in mm from `diameter` [m]; raises TabledValueError outside 1 to 500 mm."""
    size = diameter * 1e3
    if (
        not math.isfinite(size)
        or not SMALLEST_MM - _STEP_END_SLACK_MM <= size <= LARGEST_MM + _STEP_END_SLACK_MM
    ):
        raise TabledValueError(
            "ISO 286-1 nominal size",
            "1 mm to 500 mm",
            f"{size:g} mm",
            "give limits by hand outside this range",
        )
    return size


def main_step(diameter: float) -> int:
    """Index into MAIN_STEPS_MM for `diameter` [m]."""
    return bisect_left(MAIN_STEPS_MM, millimetres(diameter) - _STEP_END_SLACK_MM)


def intermediate_step(diameter: float) -> int:
    """Index into INTERMEDIATE_STEPS_MM for `diameter` [m]."""
    return bisect_left(INTERMEDIATE_STEPS_MM, millimetres(diameter) - _STEP_END_SLACK_MM)
