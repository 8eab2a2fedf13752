"""A stretch of the chart in which nothing changes hands, and where everything is at any instant of it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from handfast.proof import _compiled
from handfast.proof.arm_model import ArmModel
from handfast.proof.bodies import CellBodies
from handfast.proof.bodies_placed import place_bodies
from handfast.proof.joint_path import JointPath, control_steps
from handfast.proof.lengths import lengths
from handfast.proof.pieces_table import Index, PieceTable
from handfast.proof.standing import Carrier
from handfast.proof.stl import Array


@dataclass(frozen=True)
class Stretch:
    """start, end [s] (equal: only jaws move, at once). paths: moving arms, with the time at which their
    motion began; q: of the arms that stand [rad]; jaws: width of each hand at the start and the end [m],
    changing evenly; carriers: what each item moves with; elements: number of the element each moving hand is
    in."""

    start: float
    end: float
    paths: Mapping[str, tuple[float, JointPath]]
    q: Mapping[str, Array]
    jaws: Mapping[str, tuple[float, float]]
    carriers: Mapping[str, Carrier]
    elements: Mapping[str, int]

    @property
    def duration(self) -> float:
        """Length [s]."""
        return self.end - self.start

    @cached_property
    def cuts(self) -> Array:
        """The knots of its motions, its start and its end, as shares 0 to 1 of it."""
        if self.duration <= 0:
            return np.array([0.0, 1.0])
        knots = [(began + path.t - self.start) / self.duration for began, path in self.paths.values()]
        inside = [k[(k > 1e-12) & (k < 1 - 1e-12)] for k in knots]
        return np.unique(np.concatenate([[0.0, 1.0], *inside]))


@dataclass(frozen=True)
class Nodes:
    """Everything at I instants, with bounds for the interval around each.

    body (I, B, 4, 4): T_world_body; centre (I, P, 3), axes (I, P, 3, 3) of the pieces' boxes; travel, turn
    (I, P): how far [m, rad] a piece moves at most from there in the world; shift (I, C, P, 3), rest (I, P):
    the same apart, a step of its centre in the hull of C and what is beside that; tail (I, P, n + 1):
    travel relative to the frame of joint j of its own arm; stroke (I, P): part of it that comes from moving
    jaws.
    """

    body: Array
    centre: Array
    axes: Array
    travel: Array
    turn: Array
    shift: Array
    rest: Array
    tail: Array
    stroke: Array


HAND = 0.2
"""How far a hand and what it holds reach from the last joint, roughly [m]."""
FIRST = 80e-3
"""How far a hand moves, roughly, in the intervals that are looked at first [m]."""
LOOKED_AT = 3
"""Places of a motion at which it is asked how far the hand is from each joint, roughly."""
TOGETHER = 6
"""Segments between knots that one interval holds at most."""


def first_cuts(cell: CellBodies, stretch: Stretch) -> Array:
    """Where the stretch is cut to begin with, as shares 0 to 1 of it (k,): about FIRST apart."""
    cuts = stretch.cuts
    far = np.zeros(len(cuts) - 1)
    for name in stretch.paths:
        q = _at(stretch, name, cuts)
        some = q[np.linspace(0, len(q) - 1, LOOKED_AT).astype(int)]
        origin = cell.arms[name].joint_poses_along(some)[:, 1:, :3, 3]
        lever = lengths(origin[:, -1:] - origin).max(axis=0) + HAND
        far = np.maximum(far, np.abs(np.diff(q, axis=0)) @ lever)
    out, gone, count = [0.0], 0.0, 0
    for i, step in enumerate(far.tolist()):
        if count and (gone + step > FIRST or count == TOGETHER):
            out.append(float(cuts[i]))
            gone, count = 0.0, 0
        if step > FIRST:
            parts = math.ceil(step / FIRST)
            out += [float(cuts[i] + (cuts[i + 1] - cuts[i]) * k / parts) for k in range(1, parts)]
        gone, count = gone + step, count + 1
    return np.array([*out, 1.0])


Movers = tuple[tuple[str, ...], Index]
"""For each piece the arm and the joint it moves with; arm "" for the world."""


def rigid_groups(cell: CellBodies, table: PieceTable, stretch: Stretch, moved: Movers) -> Index:
    """One number a piece, (P,): pieces with equal numbers do not move relative to each other in this stretch.
    moved: as `movers` says."""
    arm_of, joint_of = np.array(moved[0]), moved[1]
    groups = np.zeros(len(table.body), dtype=np.int64)
    for number, name in enumerate(cell.arms):
        if name in stretch.paths:
            own = (arm_of == name) & (joint_of > 0)
            groups[own] = 1 + 100 * number + joint_of[own]
    for finger, _, arm in cell.fingers:
        if stretch.jaws[arm][0] != stretch.jaws[arm][1]:
            groups[table.body == finger] = 100_000 + finger
    return groups


def _mover(cell: CellBodies, stretch: Stretch, index: int) -> tuple[str, int]:
    """Arm and joint a body moves with; arm "" for the world."""
    body = cell.bodies[index]
    if body.kind == "item":
        arm = stretch.carriers[body.name].arm
        return arm, cell.arms[arm].joints if arm else 0
    return body.arm, body.joint


def movers(cell: CellBodies, table: PieceTable, stretch: Stretch) -> Movers:
    """What each piece moves with."""
    by_body = [_mover(cell, stretch, i) for i in range(len(cell.bodies))]
    joints = np.array([joint for _, joint in by_body], dtype=np.int64)
    return tuple(by_body[b][0] for b in table.body.tolist()), joints[table.body]


def look(
    cell: CellBodies,
    table: PieceTable,
    stretch: Stretch,
    middle: Array,
    half: Array,
    asked: Index | None = None,
    moved: Movers | None = None,
) -> Nodes:
    """Where everything is at shares `middle` (I,) of the stretch, and bounds for `half` (I,) either way.
    asked: pieces that are asked about; bounds of the others are left at nothing; moved: as `movers` says, if
    it has been asked."""
    count = len(middle)
    q = {name: _at(stretch, name, middle) for name in stretch.paths}
    joints = {
        name: _joints(arm, q[name] if name in q else stretch.q[name], count)
        for name, arm in cell.arms.items()
    }
    body = place_bodies(cell, stretch.carriers, joints, stretch.jaws, middle)
    of_piece = body[:, table.body]
    centre = (of_piece[..., :3, :3] @ table.centre[..., None])[..., 0] + of_piece[..., :3, 3]
    axes = of_piece[..., :3, :3] @ table.axes
    n = max(arm.joints for arm in cell.arms.values())
    shape = (count, len(table.pieces))
    travel, turn, tail = np.zeros(shape), np.zeros(shape), np.zeros((*shape, n + 1))
    arm_of, joint_of = movers(cell, table, stretch) if moved is None else moved
    if asked is not None:
        told = np.zeros(shape[1], dtype=bool)
        told[asked] = True
        joint_of = np.where(told, joint_of, 0)
    rest = np.zeros(shape)
    steps_of = {name: _steps(stretch, name, middle, half, q[name]) for name in stretch.paths}
    controls = next((steps.shape[1] for steps in steps_of.values()), 1)
    shift = np.zeros((count, controls, shape[1], 3))
    for name, steps in steps_of.items():
        arm, own = cell.arms[name], np.where(np.array(arm_of) == name, joint_of, 0)
        given = arm.axes, arm.reach, joints[name], steps, centre, table.radius, own
        _compiled.travel(*given, shift, rest, turn, travel, tail)
    return Nodes(body, centre, axes, travel, turn, shift, rest, tail, _strokes(cell, table, stretch, half))


def _at(stretch: Stretch, name: str, shares: Array) -> Array:
    """Joints (m, n) of a moving arm at shares (m,) of the stretch [rad]."""
    began, path = stretch.paths[name]
    return path.at(stretch.start + shares * stretch.duration - began)[0]


def _joints(arm: ArmModel, q: Array, count: int) -> Array:
    """T_world_joint (I, n + 1, 4, 4) of one arm. q: (n,) where it stands, or (I, n) [rad]."""
    if q.ndim == 1:
        return np.broadcast_to(arm.joint_poses(q), (count, arm.joints + 1, 4, 4))
    return arm.joint_poses_along(q)


def _steps(stretch: Stretch, name: str, middle: Array, half: Array, q_middle: Array) -> Array:
    """Control steps (I, C, n) of the joints around each middle."""
    began, path = stretch.paths[name]
    times = stretch.start + _within(stretch.cuts, middle, half) * stretch.duration - began
    return control_steps(path, times, q_middle)


def _within(cuts: Array, middle: Array, half: Array) -> Array:
    """Start, middle and end of each interval with the cuts inside it, rising (I, S); filled up with ends."""
    low, high = middle - half, middle + half
    first, last = np.searchsorted(cuts, low, "right"), np.searchsorted(cuts, high, "left")
    place = first[:, None] + np.arange(max(int((last - first).max(initial=0)), 0))
    inside = np.where(place < last[:, None], cuts[np.minimum(place, len(cuts) - 1)], high[:, None])
    return np.sort(np.column_stack([low, middle, high, inside]), axis=1)


def _strokes(cell: CellBodies, table: PieceTable, stretch: Stretch, half: Array) -> Array:
    if all(before == after for before, after in stretch.jaws.values()):
        return np.zeros((len(half), len(table.pieces)))
    per_body = np.array(
        [
            abs(stretch.jaws[body.arm][1] - stretch.jaws[body.arm][0]) / 2 if body.kind == "finger" else 0.0
            for body in cell.bodies
        ]
    )
    return np.asarray(half[:, None] * per_body[table.body][None, :])
