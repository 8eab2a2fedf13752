"""A leg: elements done one after another, and the state they leave."""

from __future__ import annotations

from dataclasses import dataclass, replace

from handfast.model.element import Element
from handfast.model.motion import Motion
from handfast.planning.state import State


@dataclass(frozen=True, eq=False, slots=True)
class Leg:
    """elements in the order they are done, not yet timed; state after them; pending: a motion already planned
    from the last element's end (a lift) that the next element of that hand begins with."""

    state: State
    elements: tuple[Element, ...] = ()
    pending: tuple[Motion, ...] = ()

    def then(self, state: State, *elements: Element, pending: tuple[Motion, ...] = ()) -> Leg:
        """The leg with more elements."""
        return Leg(state, self.elements + elements, pending)

    def with_pending(self, *motions: Motion) -> tuple[Motion, ...]:
        """The pending motions, then others."""
        return (*self.pending, *motions)


def element(kind: str, hand: str, item: str, target: str, mate: str, motions: tuple[Motion, ...] = (),
            before: float = 0.0, after: float = 0.0, **more: object) -> Element:  # fmt: skip
    """An element not yet numbered or placed in time; it lasts `before`, its motions, and `after` [s]."""
    duration = before + sum(m.duration for m in motions) + after
    blank = Element("", 0, hand, kind, item, target, mate, 0.0, duration, before, motions)  # type: ignore[arg-type]
    return replace(blank, **more)  # type: ignore[arg-type]
