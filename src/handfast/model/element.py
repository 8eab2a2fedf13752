"""One numbered line of the two-hand chart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from handfast.model.grasp import Grasp
from handfast.model.motion import Motion
from handfast.model.recovery import Recovery
from handfast.model.scene import Attachment
from handfast.model.strategy import Strategy
from handfast.model.touch import Touch

ElementKind = Literal[
    "search",
    "reach",
    "grasp",
    "move",
    "position",
    "assemble",
    "use",
    "hold",
    "release",
    "locate",
    "inspect",
    "delay",
]

WaitsFor = Literal[
    "",
    "the part",
    "a mate before it",
    "the tool",
    "the place",
    "the handover",
    "the other hand to make way",
    "the step of the time grid",
    "its turn",
    "nothing more to do",
]
"""Why a hand stands still. "the part", "the tool", "the place": the other hand works with it until then; "a
mate before it": the other hand has to have made it; "the handover": both hands meet there; "the other hand to
make way": it, or what it handles, is in the way, with the timing margin; "the step of the time grid": times
of both hands at once are whole steps; "its turn": one hand works at a time."""


@dataclass(frozen=True, slots=True)
class Element:
    """One line: who does what to which object, when, and how.

    id: stable, made of mate, hand and what is done ("pin-in-bore/grasp/left"); number: place in the chart,
    from 1; hand: arm name; object: part or tool; target: what it goes to ("block.bore", "hand.right",
    "place.tray.pin"), mate: which mate it serves; start_s, duration_s [s]; opening: jaw width to stand at
    during the motions [m]. motions run one after another from start_s + before_s (time for jaws to move or to
    settle, at rest). `reach`, `move`, `position`, `assemble`: their motions. `grasp`: jaws close (grasp says
    how). `release`: jaws open to `opening`, `leaves` says where the object then is, then motions lead away.
    `locate`: motions lead to the start of the touch, along the guarded move (motions[guarded], from its start
    to where contact is expected) and away again. `use`: a screw is taken up by the bit (leaves.parent
    "tool.NAME") or driven home (leaves.parent "part.NAME"). `hold`, `delay`: no motion; waits_for
    says why the hand's next element begins no sooner, until: id of the element that it waits for (nothing
    else of that hand begins before that one has ended, has got out of the way or has let go), cause: both in
    words; charts of before have only words.
    strategy: how an `assemble`, or a `use` that drives, goes in if not straight; it may take before_s.
    recoveries: what is done when it fails; where none is declared a failure stops the run.
    """

    id: str
    number: int
    hand: str
    kind: ElementKind
    object: str
    target: str
    mate: str
    start_s: float
    duration_s: float
    before_s: float = 0.0
    motions: tuple[Motion, ...] = ()
    opening: float | None = None
    grasp: Grasp | None = None
    leaves: Attachment | None = None
    touch: Touch | None = None
    guarded: int | None = None
    torque: float | None = None
    turns: float | None = None
    cause: str = ""
    strategy: Strategy | None = None
    recoveries: tuple[Recovery, ...] = ()
    waits_for: WaitsFor = ""
    until: str = ""
