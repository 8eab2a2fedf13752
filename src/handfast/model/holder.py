"""What holds parts or tools when no hand does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from handfast.model.shape import Solid
from handfast.spatial.pose import Pose

HolderKind = Literal["tray", "nest", "set-down", "presenter", "stand", "reject"]


@dataclass(frozen=True, slots=True)
class Place:
    """A place on a holder, T_holder_place. A part or tool that lies there has its own frame on the place
    frame.

    holds: the part or tool that lies there at the start; takes: a part that is put there while things are
    built on it; slack [m]: how far it may lie off along x and y, either way; slack_angle [rad]: about z,
    either way; groove: it lies in a V-groove along z, which leaves it none across, so the slack is along z.
    Where no error source acts on "place.HOLDER.PLACE", what lies there at the start is off by the slack:
    each of these uniform within it, independent, drawn anew with each part. A source that acts on the place
    says how things lie and stands instead of the slack. What a hand sets down lies as the hand left it.

    stock: how many of the part are presented there one after another, the first one included. On a reject
    holder the place is where the middle of a part is let go, its lowest point above z = 0, within the slack.
    holding [N]: sideways force with which the place holds what lies there (a tight pocket, a clip, a magnet),
    beside friction under its weight; jaws that close with less cannot push it to their middle.
    """

    name: str
    pose: Pose
    holds: str | None = None
    slack: float = 0.0
    slack_angle: float = 0.0
    groove: bool = False
    stock: int = 1
    holding: float = 0.0
    takes: str | None = None

    @property
    def free(self) -> tuple[float, float, float]:
        """How far what lies there may be off along x, y and z, either way [m]."""
        return (0.0, 0.0, self.slack) if self.groove else (self.slack, self.slack, 0.0)


@dataclass(frozen=True, slots=True)
class Holder:
    """A tray, nest (a fixture), set-down, presenter, stand, or reject (a bin for bad parts). pose:
    T_world_holder; solids in the holder frame."""

    name: str
    kind: HolderKind
    pose: Pose
    solids: tuple[Solid, ...]
    places: tuple[Place, ...]
