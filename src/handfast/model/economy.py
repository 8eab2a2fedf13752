"""What a cell, a stop and a jig cost, for the question whether a jig is worth it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Economy:
    """Money in any one currency. builds: good builds a year; hour: of the cell; stop: of one failed mate,
    until a person has put it right; jig: to make one; weeks: until it is there; change: of the jig, when
    the part changes; changes: of the part, a year; jig_seconds: to lay the part into it and clamp it [s];
    written: which of these the project states, the others being assumed.

    The values assumed are common practice, no source, but for the seconds: holding a part down while
    another goes in adds 4.0 s in Boothroyd and Dewhurst's tables (code 06 against 00, looked up).
    """

    builds: float = 5000.0
    hour: float = 60.0
    stop: float = 5.0
    jig: float = 2500.0
    weeks: float = 4.0
    change: float = 800.0
    changes: float = 2.0
    jig_seconds: float = 4.0
    written: tuple[str, ...] = ()
