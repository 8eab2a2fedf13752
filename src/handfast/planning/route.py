"""How a part gets from where it lies to its mate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

RouteKind = Literal["direct", "handover", "set-down", "tool"]


@dataclass(frozen=True, slots=True)
class Route:
    """direct: one hand from pick to mate; handover: the first hand picks, the second mates; set-down: the
    first hand picks and puts down, the second (which may be the same) grasps anew and mates; tool: the hand
    drives a fastener."""

    kind: RouteKind
    hands: tuple[str, ...]

    @property
    def last(self) -> str:
        """The hand that ends up at the mate."""
        return self.hands[-1]

    def __str__(self) -> str:
        return f"{self.kind} {'>'.join(self.hands)}"


COST = {"direct": 10, "handover": 16, "set-down": 18, "tool": 14}
"""Rough seconds a route takes, for choosing between routes before any is realised; also the cost that
searches are compared by."""
