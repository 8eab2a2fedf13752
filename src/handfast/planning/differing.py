"""What is not as it was when a motion was planned."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, eq=False, slots=True)
class Differing:
    """What stands otherwise, or has another shape, while a hand moves: items and what never moves by name,
    other hands by name."""

    items: frozenset[str]
    fixed: frozenset[str]
    hands: frozenset[str]

    def __bool__(self) -> bool:
        return bool(self.items or self.fixed or self.hands)
