"""A mate: one homing motion of one part, with one or more feature pairs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

MateKind = Literal["insert", "seat", "press", "screw", "gear-mesh", "ring", "belt"]


@dataclass(frozen=True, slots=True)
class FeaturePair:
    """moving: feature of the part that moves; fixed_part, fixed: feature of the part it goes to.

    At home both frames share their z axis; the moving origin is `depth` [m] along it past the fixed
    origin. Two gears: both z axes point the same way, half the sum of the pitch diameters apart; each
    frame's x runs through the middle of a tooth. backlash: of a pair of gears at the pitch circle, along
    it, least and most over all permitted sizes [m].
    """

    moving: str
    fixed_part: str
    fixed: str
    depth: float = 0.0
    backlash: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Mate:
    """One homing motion. The first pair sets the pose, later pairs fix what it leaves free (the roll).

    into: the part it becomes attached to; torque [N m], tool: for a screw; held_until: the mate that
    retains this part, until which a hand holds it; needs: mates that must be done before; clamps: parts
    that the fastener passes through and ends up touching; free_roll: the part may go home at any angle
    about the axis of its first pair; force_limit [N]: of the insertion; touches: (part, face) of each
    touch wanted before; untouchable: (part, face) that no touch may be added to; most_touches: how many
    touches there may be in all; stays: once home the part stays in, however what it is in is carried or
    turned: the engineer says so, nobody checks it; stands: "place.HOLDER.PLACE" or "hand.ARM", where what it
    goes into stands meanwhile (None: wherever it then is).
    """

    name: str
    kind: MateKind
    part: str
    into: str
    pairs: tuple[FeaturePair, ...]
    torque: float | None = None
    tool: str | None = None
    held_until: str | None = None
    needs: tuple[str, ...] = ()
    clamps: tuple[str, ...] = ()
    free_roll: bool = False
    force_limit: float = 50.0
    touches: tuple[tuple[str, str], ...] = ()
    untouchable: tuple[tuple[str, str], ...] = ()
    most_touches: int = 4
    stays: bool = False
    stands: str | None = None

    @property
    def joined(self) -> tuple[str, ...]:
        """The parts that it meets at home: what it goes into, what its pairs name, what it clamps; each
        once."""
        return tuple(dict.fromkeys((self.into, *(p.fixed_part for p in self.pairs), *self.clamps)))
