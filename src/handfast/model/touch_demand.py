"""What the ledger asks of the planner for a mate: touches before it, and how it goes in."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.strategy import Strategy
from handfast.model.touch import Touch


@dataclass(frozen=True, slots=True)
class TouchDemand:
    """Touches wanted before a mate, in order, and touches the planner could not reach; reason: why no
    more are wanted although the mate may fall short, "" if it does not; strategy: how it is to go in, None
    for straight.
    """

    mate: str
    touches: tuple[Touch, ...]
    excluded: tuple[Touch, ...] = ()
    reason: str = ""
    strategy: Strategy | None = None
