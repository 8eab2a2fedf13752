"""How a part goes home where straight down its line is not certain enough.

An `assemble` or `use` element carries at most one; none means straight. Each says what the hand does before
or while it goes along the element's last motion, from which it then goes on; `seconds` is the time this takes
at most, and the element's `before_s` leaves room for it. Axes are those of the first pair's fixed feature:
"down" is the way in, "the mouth" the plane at its origin. Forces and speeds are process values, never safety
limits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

from handfast.spatial.pose import Vec3


@dataclass(frozen=True, slots=True)
class Spiral:
    """Round and round over the mouth until the part drops in.

    The hand presses the tip on the face around the mouth with `force` [N] and leads it along an Archimedean
    spiral in the plane of the mouth, r = pitch * angle / (2 pi), from r = 0, where it was commanded to, out
    to r = `radius` [m]; `pitch` [m] between turns, `speed` [m/s] along the path. Once the part has come down
    by `drop` [m] below the mouth, past its chamfers, the spiral ends; the hand yields sideways until no more
    than `rest` [N] is left of the side force, and the straight motion goes on from there. It fails where
    the spiral ends without.
    """

    radius: float
    pitch: float
    speed: float
    force: float
    drop: float
    rest: float
    name: ClassVar[str] = "spiral"

    @property
    def path(self) -> float:
        """Length of the whole spiral [m]: pi R^2/p, that of a band one pitch wide over the disc."""
        return math.pi * self.radius**2 / self.pitch

    @property
    def text(self) -> str:
        """What the hand does, in a few words."""
        return f"the tip circles out to {self.radius * 1e3:.2f} mm, {self.pitch * 1e3:.2f} mm between turns"

    @property
    def seconds(self) -> float:
        """The whole path."""
        return self.path / self.speed


@dataclass(frozen=True, slots=True)
class TiltAndRight:
    """Leaned, so that one point of the tip's edge leads into the hole; pushed against its wall; righted.

    At the mouth the hand leans the part by `lean` [rad] about `axis` (unit, across the way in) through the
    middle of its tip, and shifts it so that the leading point of the edge stands where the middle of the hole
    is thought to be. It goes down by `bite` [m] below the mouth; where `force` [N] stops it before, it has
    missed. It moves on along the way from the tip's middle to the leading point until the wall is felt with
    `force`, at most `travel` [m], turns upright at `rate` [rad/s] with that force held, and yields
    sideways until no more than `rest` [N] is left of it. The straight motion goes on from there.
    """

    lean: float
    axis: Vec3
    bite: float
    travel: float
    speed: float
    rate: float
    force: float
    rest: float
    name: ClassVar[str] = "tilt and right"

    @property
    def text(self) -> str:
        """What the hand does, in a few words."""
        return f"leaned by {math.degrees(self.lean):.0f} deg, pushed to the wall and righted"

    @property
    def seconds(self) -> float:
        """Lean, down, across and upright."""
        return 2 * self.lean / self.rate + (self.bite + self.travel) / self.speed


@dataclass(frozen=True, slots=True)
class RotateWhileLowering:
    """Tried again at other angles, a step at a time, until what meshes drops in.

    Down to `lift` above where what meshes meets, the part goes straight with its mate's force limit. Where
    `force` [N] stops it from there on before home, the hand lifts it by `lift` [m],
    turns it about its own axis at `rate` [rad/s] to the next angle, and lets it down again at `speed` [m/s]:
    at most `tries` times in all, an odd number, the first without a turn. The angles are `step` [rad] times
    0, 1, 2, ..., (tries - 1)/2, then -1, -2, ..., -(tries - 1)/2, right-handed about the way in. It turns
    while nothing touches, or the gear beneath could be dragged along. It has dropped where it comes `drop`
    [m] further than at first, or than where what meshes meets; the straight motion then goes on at that
    angle with the mate's force limit, and the part is let go there. It fails where the last try is stopped
    too.
    """

    step: float
    tries: int
    lift: float
    rate: float
    speed: float
    force: float
    drop: float
    name: ClassVar[str] = "rotate while lowering"

    @property
    def text(self) -> str:
        """What the hand does, in a few words."""
        angle = math.degrees(self.step)
        return f"lifted and tried again at up to {self.tries} angles, {angle:.2f} deg apart"

    @property
    def seconds(self) -> float:
        """All tries, lifted and let down, and the turns there, back and to the other side."""
        lifts = (self.tries - 1) * 2 * self.lift / self.speed
        return lifts + 1.5 * (self.tries - 1) * self.step / self.rate


@dataclass(frozen=True, slots=True)
class BackTurn:
    """A screw turned backwards until it drops over the start of its thread, then slowly in.

    With `force` [N] on its head the spindle turns the screw against its thread at `rate` [rad/s], by at most
    `turn` [rad], until it drops by `drop` [m] or more; then forwards at the same rate by `slow_turn` [rad],
    stopping where the torque exceeds `torque` [N m]: it is then crossed, and is turned out again. The rest is
    driven as without.
    """

    turn: float
    rate: float
    force: float
    torque: float
    drop: float
    slow_turn: float
    name: ClassVar[str] = "back-turn"

    @property
    def text(self) -> str:
        """What the hand does, in a few words."""
        return f"turned back by up to {math.degrees(self.turn):.0f} deg until it drops over its thread"

    @property
    def seconds(self) -> float:
        """The turn back and the slow turn in."""
        return (self.turn + self.slow_turn) / self.rate


@dataclass(frozen=True, slots=True)
class Press:
    """Pressed straight in against the fit's interference, with at most `force` [N], at `speed` [m/s]."""

    force: float
    speed: float
    length: float
    name: ClassVar[str] = "press"

    @property
    def text(self) -> str:
        """What the hand does, in a few words."""
        return f"pressed in with up to {self.force:.0f} N"

    @property
    def seconds(self) -> float:
        """From first contact of the fit to home."""
        return self.length / self.speed


Strategy = Spiral | TiltAndRight | RotateWhileLowering | BackTurn | Press
