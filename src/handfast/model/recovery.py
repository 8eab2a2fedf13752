"""What may go wrong with an element, and what is then done about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Cause = Literal[
    "",
    "chart",
    "missing part",
    "upside down",
    "lies elsewhere",
    "wrong width",
    "slipped",
    "no contact",
    "unlikely touch",
    "did not go in",
    "not taken up",
    "screw not started",
    "cross-threaded",
    "screw not seated",
    "obstructed",
    "cannot follow",
    "cell",
    "out of step",
]
"""Why an element failed. "missing part": the jaws met nothing, or the camera sees nothing; "wrong width": the
jaws met something of another size; "slipped": the jaws' width has changed since they closed; "unlikely
touch": contact, but further off than the errors explain; "screw not seated": torque too early, or too many
turns; "obstructed": an arm was stopped on its way; "cannot follow": a corrected motion is out of reach or
blocked; "chart": it contradicts itself; "cell": a command that the cell cannot carry out; "out of
step": a hand was too late for the other to go on safely."""

RecoveryKind = Literal["touch again", "search", "grasp again", "reject", "stop"]


@dataclass(frozen=True, slots=True)
class Recovery:
    """What to do when an element fails by `cause`. Those of one cause are carried out in order, each at most
    `times`; where none is left the run stops.

    reach [m]: how far a search goes sideways from the planned line; step [m]: between two tries of a search,
    less than what the chamfers catch; place: "HOLDER.PLACE" for what is rejected; text: what a person must
    do, of a "stop".
    """

    cause: Cause
    do: RecoveryKind
    times: int = 1
    reach: float = 0.0
    step: float = 0.0
    place: str = ""
    text: str = ""
