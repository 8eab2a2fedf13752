"""What the ledger asks of the planner: touches."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.touch import Touch


@dataclass(frozen=True, slots=True)
class TouchDemand:
    """Touches wanted before a mate, in order, and touches the planner could not reach; reason: why no
    more are wanted although the mate may fall short, "" if it does not.
    """

    mate: str
    touches: tuple[Touch, ...]
    excluded: tuple[Touch, ...] = ()
    reason: str = ""
