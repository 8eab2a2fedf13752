"""Whether screws are driven to the torques, and in the order, that the product asks for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from handfast.model.element import Element
from handfast.model.mate import Mate
from handfast.model.product import Product
from handfast.model.tightening import Stage, Tightening

_SAME = 1e-6  # relative


class Rounds:
    """How many rounds each screw has had. before: elements that are done already."""

    def __init__(self, product: Product, before: Iterable[Element] = ()) -> None:
        self._product = product
        self._had: Counter[str] = Counter()
        for element in before:
            if element.kind == "use" and element.leaves is not None:
                self._had[element.mate] += element.leaves.parent.startswith("part.")

    def due(self, element: Element) -> str:
        """Why this screw must not be driven like that now, "" if it may be; counts it."""
        mate = self._product.mate(element.mate)
        pattern = next((t for t in self._product.tightenings if mate.name in t.screws), None)
        had = self._had[mate.name]
        self._had[mate.name] += 1
        if pattern is None:
            return _torque(element, mate, mate.torque) if had == 0 else f"{mate.name} is driven twice"
        if had >= len(pattern.stages):
            return f"{mate.name} has had all {had} rounds of {pattern.name} already"
        return self._turn_of(mate, pattern, had) or _stage(element, mate, pattern.stages[had], had)

    def _turn_of(self, mate: Mate, pattern: Tightening, had: int) -> str:
        """Screws before it in the pattern have had this round, those behind it the one before."""
        place = pattern.screws.index(mate.name)
        for i, screw in enumerate(pattern.screws):
            wanted = had + (i < place)
            if i != place and self._had[screw] != wanted:
                return (
                    f"{mate.name} is not due: {screw} has had {self._had[screw]} rounds, {wanted} are wanted"
                )
        return ""


def _stage(element: Element, mate: Mate, stage: Stage, had: int) -> str:
    if stage.torque is not None:
        return _torque(element, mate, stage.torque)
    if element.torque is not None:
        return f"round {had + 1} of {mate.name} goes by turns, {element.torque:g} N m are asked for"
    return ""


def _torque(element: Element, mate: Mate, wanted: float | None) -> str:
    if wanted is None or element.torque is None or abs(element.torque - wanted) > _SAME * wanted:
        found = "no torque is" if element.torque is None else f"{element.torque:g} N m are"
        return f"{mate.name} is to be driven to {wanted or 0:g} N m, {found} asked for"
    return ""
