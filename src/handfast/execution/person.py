"""What a routine asks of the person who stands beside the cell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Step:
    """title: in a few words; todo: sentences, in order, the last of which leaves the cell clear."""

    title: str
    todo: tuple[str, ...]


class Person(Protocol):
    """Somebody who can be asked, and who alone says that a step is done."""

    def done(self, step: Step) -> bool:
        """Show a step and wait; False: the person does not want to go on."""
        ...


class Answered:
    """Nobody has to do anything: a simulated cell does it itself when it is told. Implements `Person`."""

    def done(self, step: Step) -> bool:
        """At once."""
        return True


AWAY = "Leave the guarded space and close it: what comes next moves the arms."
"""The last sentence of every step that somebody does inside."""
ENTER = (
    "Stop both arms by the cell's own means before you reach in, as your risk assessment and local rules "
    "say (ISO 10218)."
)
"""The first one."""
