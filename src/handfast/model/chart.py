"""The two-hand chart: the whole process."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.element import Element
from handfast.model.scene import Scene


@dataclass(frozen=True, slots=True)
class Chart:
    """Elements by start time; mates in the order in which they are done.

    start: where everything is before the first element; hands: the columns, arm names from left to right;
    makespan_s, lower_bound_s [s].
    """

    project: str
    hands: tuple[str, ...]
    start: Scene
    elements: tuple[Element, ...]
    mates: tuple[str, ...]
    makespan_s: float
    lower_bound_s: float

    def element(self, number: int) -> Element:
        """The element of that number. Raises KeyError if there is none."""
        for element in self.elements:
            if element.number == number:
                return element
        raise KeyError(f"no element {number}; there are 1 to {len(self.elements)}")
