"""What one hand does at one stand of an artefact, planned and proven before it is done."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from handfast.execution.anew import Stands
from handfast.model.element import Element
from handfast.model.motion import Motion
from handfast.spatial.pose import Pose, Vec3


@dataclass(frozen=True, slots=True)
class BallTouch:
    """One guarded move onto the ball of an artefact.

    posture: how the hand stands; face: of the closed fingers, in the grip frame ("end", "+x", "-y", ...), or
    of what is held, how far up the bit [mm]; direction: unit, in the world; to: motions to where the straight
    line begins; near: along it to the start of the guarded move; away: back again; guarded: the guarded move
    as far as it may go, travel + overtravel [m].
    """

    posture: str
    face: str
    direction: Vec3
    travel: float
    overtravel: float
    to: tuple[Motion, ...]
    near: Motion
    away: Motion
    guarded: Motion

    @property
    def name(self) -> str:
        """Posture and face."""
        return f"{self.posture}/{self.face}"


@dataclass(frozen=True, slots=True)
class BallRound:
    """touches in order; home: motions to where the hand came from; left_out: touches that no way was found
    for, with the reason."""

    touches: tuple[BallTouch, ...]
    home: tuple[Motion, ...]
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ToolRound:
    """A tool is taken from its stand (`take`), its bit touches the ball from one side, and it is put back
    (`back`); home: motions of the empty hand. touches: their `face` is how far up the bit [mm]; T_grip_tool:
    as it is held."""

    hand: str
    tool: str
    T_grip_tool: Pose
    take: tuple[Element, ...]
    touches: tuple[BallTouch, ...]
    back: tuple[Element, ...]
    home: tuple[Motion, ...]


class BallPlanner(Protocol):
    """Everything it gives is planned and proven before it is given."""

    def touches(self, artefact: str, stand: str, hand: str, q: Stands) -> BallRound:
        """Closed fingers of a hand onto the ball, the artefact standing there; the other arms stand at q (n,)
        [rad]. Raises NoWayAnewError if there is not one touch."""
        ...

    def bit_touches(self, artefact: str, stand: str, tool: str, q: Stands) -> ToolRound:
        """The bit of a tool in whichever hand can do it; every arm stands at q (n,) [rad], jaws empty. Raises
        NoWayAnewError if none can."""
        ...
