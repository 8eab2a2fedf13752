"""Limit deviations, limits of size and clearance of fits after ISO 286-1, written `H7/g6`."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.standards.hole_deviations import LOWER_HOLE_LETTERS, hole_lower_deviation, hole_upper_deviation
from handfast.standards.it_grades import it_width
from handfast.standards.shaft_deviations import UPPER_LETTERS, lower_deviation, upper_deviation
from handfast.standards.tabled_value_error import TabledValueError
from handfast.standards.tolerance_class import ToleranceClass, parse_tolerance_class


@dataclass(frozen=True, slots=True)
class Limits:
    """A lower and an upper value [m], lower <= upper."""

    lower: float
    upper: float

    def __post_init__(self) -> None:
        if not self.lower <= self.upper:
            raise TabledValueError(
                "limits", "lower <= upper", (self.lower, self.upper), "exchange the two values"
            )

    @property
    def middle(self) -> float:
        """Half way between the limits [m]."""
        return 0.5 * (self.lower + self.upper)

    @property
    def width(self) -> float:
        """Upper minus lower [m]."""
        return self.upper - self.lower


def deviations(diameter: float, tolerance_class: str) -> Limits:
    """Lower and upper limit deviation [m] of a class such as `H7` or `g6` at nominal size `diameter` [m].

    The symmetric classes js and JS are +-IT/2 without the rounding of odd widths that older editions allow.
    Raises TabledValueError for a class or size outside the tables.
    """
    asked = parse_tolerance_class(tolerance_class)
    width = it_width(diameter, asked.grade)
    if asked.letter in ("js", "JS"):
        return Limits(-0.5 * width, 0.5 * width)
    return (
        _hole_deviations(diameter, asked, width)
        if asked.is_hole
        else _shaft_deviations(diameter, asked, width)
    )


def limits(diameter: float, tolerance_class: str) -> Limits:
    """Lower and upper limit of size [m] of a class at nominal size `diameter` [m]: size plus deviations."""
    apart = deviations(diameter, tolerance_class)
    return Limits(diameter + apart.lower, diameter + apart.upper)


def clearance(diameter: float, hole: str, shaft: str) -> Limits:
    """Smallest and largest diametral clearance [m] of a fit, negative where it is interference.

    hole: class in capitals, such as `H7`; shaft: class in small letters, such as `g6`.
    """
    for text, wanted, is_hole in ((hole, "a hole class in capitals", True), (shaft, "a shaft class", False)):
        if parse_tolerance_class(text).is_hole is not is_hole:
            raise TabledValueError("ISO 286 fit", wanted, text, "write the hole first: H7 and g6")
    of_hole, of_shaft = deviations(diameter, hole), deviations(diameter, shaft)
    return Limits(of_hole.lower - of_shaft.upper, of_hole.upper - of_shaft.lower)


def parse_fit(text: str) -> tuple[str, str]:
    """Split a fit `H7/g6` into its hole and shaft class; raises TabledValueError."""
    parts = [part.strip() for part in text.split("/")]
    if len(parts) != 2:
        raise TabledValueError("ISO 286 fit", "hole/shaft", text, "write for example H7/g6")
    hole, shaft = parts
    if not parse_tolerance_class(hole).is_hole or parse_tolerance_class(shaft).is_hole:
        raise TabledValueError("ISO 286 fit", "hole/shaft", text, "write the hole first, in capitals: H7/g6")
    return hole, shaft


def _hole_deviations(diameter: float, asked: ToleranceClass, width: float) -> Limits:
    if asked.letter in LOWER_HOLE_LETTERS:
        lower = hole_lower_deviation(diameter, asked.letter)
        return Limits(lower, lower + width)
    upper = hole_upper_deviation(diameter, asked.letter, asked.grade)
    return Limits(upper - width, upper)


def _shaft_deviations(diameter: float, asked: ToleranceClass, width: float) -> Limits:
    if asked.letter in UPPER_LETTERS:
        upper = upper_deviation(diameter, asked.letter)
        return Limits(upper - width, upper)
    # k carries its small positive deviation in grades 4 to 7 only (ISO 286-1:2010 table 5).
    k_without = asked.letter == "k" and not 4 <= asked.grade <= 7
    lower = 0.0 if k_without else lower_deviation(diameter, asked.letter)
    return Limits(lower, lower + width)
