"""What a cell can be asked whose arms move at the same time: things are begun, and one waits for them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from handfast.execution.cell import Cell

TAKES_TIME = ("move", "grip", "release", "guarded_move", "insert", "drive", "pause")
"""Calls of a cell that can be begun."""


@dataclass(frozen=True, slots=True)
class Ended:
    """Something that was begun is over. result: what the call returns; error: why it could not be done, ""
    if it could, kind "obstructed" if an arm was stopped on its way, "halted" by `halt`, else "cell"."""

    arm: str
    result: Any = None
    error: str = ""
    kind: str = ""


class TwoHandCell(Cell, Protocol):
    """A cell that has begun at most one thing for each arm. What it is asked otherwise is done at once, also
    while arms move; `state` says where an arm then is."""

    @property
    def two_hands(self) -> bool:
        """Whether the cell can do this at all."""
        ...

    def begin(self, arm: str, name: str, given: Mapping[str, Any]) -> None:
        """Begin for that arm what the call `name`, one of TAKES_TIME, asks for; return at once."""
        ...

    def wait(self, seconds: float) -> tuple[Ended, ...]:
        """Until something that was begun is over, or so many seconds have passed: all that is over by
        then."""
        ...

    def jaws(self, arm: str, width: float) -> None:
        """Empty jaws begin to go to a width [m], whatever the arm is at; return at once."""
        ...

    def halt(self) -> None:
        """Stop all arms where they are, now; what they were at is over."""
        ...


def with_two_hands(cell: object) -> TwoHandCell | None:
    """The cell, if it can move both arms at the same time."""
    return cell if getattr(cell, "two_hands", False) else None  # type: ignore[return-value]
