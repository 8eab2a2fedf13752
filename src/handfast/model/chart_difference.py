"""What is not the same in two charts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from handfast.model.element import Element

Matter = Literal["path", "grasp", "place", "touch", "force", "jaws", "timing", "part", "new"]


@dataclass(frozen=True, slots=True)
class ElementDifference:
    """One element that is not as it was. element: as it is in the second chart, or was in the first if it
    is gone; before: its number in the first chart, None if it is new; matters: what is not the same
    ("part": what it handles has another shape, or is drawn or made otherwise);
    shift [rad]: largest difference of a joint along its paths, where they run alike.
    """

    element: Element
    before: int | None
    matters: tuple[Matter, ...]
    shift: float = 0.0


@dataclass(frozen=True, slots=True)
class ChartDifference:
    """The second chart beside the first.

    same: how many elements are as they were, but for their number and start; changed: those of the second
    chart that are not, or are new: they have to be checked again at the machine; gone: those of the first
    that are no more; cycle times [s]; order_changed: whether mates that both have are done in another order.
    """

    same: int
    changed: tuple[ElementDifference, ...]
    gone: tuple[Element, ...]
    before_s: float
    after_s: float
    order_changed: bool
