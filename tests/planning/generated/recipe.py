"""A small cell as it is drawn at random, before it is written to files. Lengths in mm, z up."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from manifold3d import Manifold

Features = dict[str, dict[str, Any]]


@dataclass(frozen=True, eq=False)
class Grip:
    """One way to hold a piece from above, jaws closing along its y.

    x, z: of the fingertips in the piece's frame; width: between the pads; features: between the pads.
    """

    x: float
    z: float
    width: float
    features: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Piece:
    """A part: its solid, its features as product.yaml has them, and how it can be held from above.

    seat: height of its origin over the top of the post that it stands on; foot: what the post needs to be.
    """

    name: str
    solid: Manifold
    features: Features
    grips: tuple[Grip, ...] = ()
    seat: float = 0.0
    foot: tuple[float, float] = (26.0, 26.0)
    well: float = 8.6  # diameter of the hole in the post, 18 deep


@dataclass(frozen=True, eq=False)
class Stand:
    """A post, a nest or a set-down at x, y, turned by yaw [deg]: size of its block, hole in its top."""

    name: str
    kind: str
    x: float
    y: float
    size: tuple[float, float, float]
    holds: str | None = None
    yaw: float = 0.0
    well: float = 0.0
    seat: float = 0.0


@dataclass(frozen=True, eq=False)
class Wall:
    """An obstacle: a box standing on z = low."""

    name: str
    x: float
    y: float
    size: tuple[float, float, float]
    low: float = 0.0


@dataclass(frozen=True)
class Move:
    """One step of a plan known to work: a hand takes a piece by one of its grips to `to`.

    to: the mate ("mate"), the other hand ("hand.NAME", at `at`), or a set-down ("spot"). keep: does not let
    go. free: hands that let go afterwards.
    """

    hand: str
    piece: str
    mate: str
    grip: int
    to: str = "mate"
    at: tuple[float, float, float] = (0.0, 0.0, 0.0)
    keep: bool = False
    free: tuple[str, ...] = ()


@dataclass(eq=False)
class Recipe:
    """Everything that is written to the project folder; moves: a plan known to work, empty if there is none;
    why: which certificate says that there is none, or which family the cell is of."""

    name: str
    why: str
    arms: dict[str, tuple[float, float]]
    pieces: list[Piece]
    stands: list[Stand]
    mates: dict[str, dict[str, Any]]
    walls: list[Wall] = field(default_factory=list)
    moves: list[Move] = field(default_factory=list)
    order: str = "free"
    opening: float = 70.0

    def piece(self, name: str) -> Piece:
        """The piece of that name."""
        return next(p for p in self.pieces if p.name == name)

    def stand_of(self, name: str) -> Stand:
        """What a piece stands on at the start."""
        return next(s for s in self.stands if s.holds == name)
