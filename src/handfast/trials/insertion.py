"""One insertion as a task for contact: what is held, what it meets, how it is driven. Both solvers take
it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.contact_shapes import RoundHole, RoundShaft
from handfast.trials.gear_teeth import GearTeeth
from handfast.trials.insertion_model import Support

PENETRATION_ALLOWED = 0.2  # share of the radial clearance; deeper and the try says nothing about the fit
SHORT = 2e-4  # going home counts as reached this close before the commanded depth [m]


@dataclass(frozen=True, eq=False, slots=True)
class Corners:
    """Points (n, 3) of the face with which a part comes to stand."""

    points: Array


@dataclass(frozen=True, slots=True)
class Seat:
    """A face on which a part comes to stand. Frame: z out of the material."""


Shape = RoundHole | RoundShaft | GearTeeth | Corners | Seat


@dataclass(frozen=True, eq=False, slots=True)
class Piece:
    """One shape. body: -1 stands still, 0 is held, 1.. are the loose ones; T_body_shape (4, 4), for body -1
    in the world, which is the frame of the first pair's fixed feature; opens_into: another hole, of the same
    body, that takes away wall from this one, by its place among the pieces; -1: none."""

    name: str
    body: int
    shape: Shape
    T_body_shape: Array
    opens_into: int = -1


@dataclass(frozen=True, slots=True)
class Pair:
    """Two pieces that may touch, by their places: inner (shaft, gear, corners) and outer (hole, gear, seat);
    clearance: radial [m], half the backlash of gears, 0 for a seat; own: it is of a loose part in its own
    hole."""

    inner: int
    outer: int
    clearance: float
    own: bool = False


@dataclass(frozen=True, eq=False, slots=True)
class Loose:
    """A part that stands in its own fit with play, and yields within it. T_world_body (4, 4)."""

    part: str
    T_world_body: Array


@dataclass(frozen=True, eq=False, slots=True)
class Insertion:
    """T_start, T_home (4, 4): commanded poses of the held body, whose frame is the first pair's moving
    feature; z_in: +1 if it goes in along that feature's +z (a shaft), -1 along its -z (a hole); T_now: where
    the held body stands, if contact has it elsewhere than T_start; speed [m/s]; force_limit [N] along the
    command."""

    pieces: tuple[Piece, ...]
    pairs: tuple[Pair, ...]
    loose: tuple[Loose, ...]
    T_start: Array
    T_home: Array
    z_in: Literal[-1, 1]
    support: Support
    speed: float
    force_limit: float
    friction: float
    T_now: Array | None = None

    @property
    def way(self) -> Array:
        """Unit vector of the command (3,)."""
        return np.asarray(self._travel / np.linalg.norm(self._travel))

    @property
    def length(self) -> float:
        """Of the commanded line [m]."""
        return float(np.linalg.norm(self._travel))

    @property
    def _travel(self) -> Array:
        return np.asarray(self.T_home[:3, 3] - self.T_start[:3, 3])

    def T_world(self, piece: int, T_held: Array, T_loose: tuple[Array, ...] | None = None) -> Array:
        """Where a piece is (4, 4)."""
        found = self.pieces[piece]
        bodies = T_loose if T_loose is not None else tuple(b.T_world_body for b in self.loose)
        body = (np.eye(4), T_held, *bodies)[found.body + 1]
        return np.asarray(body @ found.T_body_shape)

    def engaged(self, pair: Pair, T_held: Array, T_loose: tuple[Array, ...] | None = None) -> float:
        """How far the inner piece is past the mouth of the outer one [m]; of gears, how far their teeth
        overlap."""
        inner, outer = self.T_world(pair.inner, T_held, T_loose), self.T_world(pair.outer, T_held, T_loose)
        a, b = self.pieces[pair.inner].shape, self.pieces[pair.outer].shape
        if isinstance(a, GearTeeth) and isinstance(b, GearTeeth):
            high = float((se3.inverse(outer) @ inner)[2, 3])  # of the inner's end above the outer's
            return b.length + high if self._from_below(pair, outer) else a.length - high
        if isinstance(a, Corners):
            at = (se3.inverse(outer) @ inner) @ np.append(a.points.mean(axis=0), 1.0)
            return -float(at[2])
        return float((se3.inverse(outer) @ inner)[2, 3])

    def _from_below(self, pair: Pair, T_world_outer: Array) -> bool:
        """Whether the inner gear comes along the outer one's +z."""
        held = self.pieces[pair.inner].body == 0
        return float(self.way @ T_world_outer[:3, 2]) * (1 if held else -1) > 0

    def crossing(self, pair: Pair) -> float:
        """Over how much depth the chamfers of a pair lead in [m]."""
        shapes = (self.pieces[pair.inner].shape, self.pieces[pair.outer].shape)
        return sum(s.chamfer_depth for s in shapes if isinstance(s, RoundHole | RoundShaft | GearTeeth))

    def at_mouth(self) -> tuple[float, float]:
        """Of the commanded axis of the first pair, at its mouth: offset [m] and tilt [rad]."""
        pair = self.pairs[0]
        first, last = self.engaged(pair, self.T_start), self.engaged(pair, self.T_home)
        T = np.array(self.T_start)
        T[:3, 3] += (0.0 - first) / (last - first) * self._travel
        across = se3.inverse(self.T_world(pair.outer, T)) @ self.T_world(pair.inner, T)
        return float(np.hypot(across[0, 3], across[1, 3])), math.acos(min(1.0, abs(float(across[2, 2]))))


@dataclass(frozen=True, eq=False, slots=True)
class Inserted:
    """What became of it. outcome, cause ("" if ok); travel [m] done; offset, tilt: of the command at the
    first mouth; peak_force [N] along the command; penetration: deepest share of a pair's clearance; valid:
    not too deep; T_held and T_loose (4, 4): where it ended; searched: share of a strategy's tries that
    were made; steps; unsettled: those that ended without balance; felt (steps, 4): travel of the command [m],
    force of what holds the part along the way and across it [N], its moment about the centre of compliance
    [N m]."""

    outcome: Literal["ok", "failed"]
    cause: str
    travel: float
    offset: float
    tilt: float
    peak_force: float
    penetration: float
    valid: bool
    T_held: Array
    T_loose: tuple[Array, ...]
    searched: float
    steps: int
    unsettled: int = 0
    felt: Array = field(default_factory=lambda: np.zeros((0, 4)))


def cause_of(task: Insertion, missing: float, over: bool, T_held: Array, T_loose: tuple[Array, ...]) -> str:
    """Why it is not home, "" if it is. missing: travel left [m]; over: the force limit was reached."""
    if over and any(_stands(task, p, T_held, T_loose) for p in task.pairs):
        return ""
    if missing < SHORT and not over:
        return ""
    if not over:
        return f"not deep enough: {missing * 1e3:.2f} mm are missing"
    for pair in task.pairs:
        told = "" if pair.own else _caught(task, pair, T_held, T_loose)
        if told:
            return told
    return "jammed: force limit inside the bore" if missing >= SHORT else "force limit at depth"


def _stands(task: Insertion, pair: Pair, T_held: Array, T_loose: tuple[Array, ...]) -> bool:
    corners = task.pieces[pair.inner].shape
    if not isinstance(corners, Corners):
        return False
    T = se3.inverse(task.T_world(pair.outer, T_held, T_loose)) @ task.T_world(pair.inner, T_held, T_loose)
    return bool((corners.points @ T[:3, :3].T + T[:3, 3])[:, 2].max() < SHORT)


def _caught(task: Insertion, pair: Pair, T_held: Array, T_loose: tuple[Array, ...]) -> str:
    """Whether the pair stands at its mouth, and how."""
    inner, outer = task.pieces[pair.inner], task.pieces[pair.outer]
    if isinstance(inner.shape, Corners):
        return ""
    depth = task.engaged(pair, T_held, T_loose)
    if isinstance(inner.shape, GearTeeth):
        return "the teeth stand on the other gear's" if -1e-4 < depth < 2e-4 else ""
    several = sum(not p.own for p in task.pairs) > 1
    where = f" of {outer.name if outer.body != 0 else inner.name}" if several else ""
    if -3e-4 < depth < 1e-4:
        return f"missed the chamfer{where}"
    if 0 < depth < task.crossing(pair):
        return f"force limit on the chamfer{where}"
    return ""
