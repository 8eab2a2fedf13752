"""Whether bodies can be carried along a straight line: exact, and certain between samples."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast import _kernel
from handfast.geometry.body import Body, Pair, Piece, Shapes, along_its_axis, piece_distance, shapes_of
from handfast.spatial.se3 import Array

_ROUNDING = 1e-9  # [m]
NEAR = 0.0005  # clearance that grasp and mating lines keep from everything they are not meant to touch [m]


@dataclass(frozen=True, slots=True)
class Hit:
    """What a line comes too close to: names, the distance there, and the clearance asked for [m]."""

    moving: str
    standing: str
    distance: float
    need: float = NEAR

    @property
    def short_by(self) -> float:
        """By how much the clearance is missed [m]."""
        return self.need - self.distance


Allowed = frozenset[tuple[str, str]]
Placed = list[tuple[Body, Array]]
Memo = dict[tuple[Piece, Piece, bytes, bytes, bytes, float], float | None]


def blocked(
    moving: Placed,
    standing: Placed | Standing,
    T_world_grip: Array,
    step: Array,
    allowed: Allowed = frozenset(),
    memo: Memo | None = None,
    need: float = NEAR,
) -> Hit | None:
    """The first body in the way of a pure translation by `step` (3,) [m] of the grip frame from T_world_grip,
    or None.

    moving: bodies with T_grip_body; standing: with T_world_body; allowed: (moving, standing) names that may
    touch. A translation by s changes a distance by at most s, so each pair of shapes is advanced by the
    distance it has left, less half of `need`: no contact between the samples is missed, and none comes nearer
    than half of it unseen. memo keeps the answers by shapes and poses.
    """
    length = float(np.linalg.norm(step))
    direction = step / length if length > 0 else np.zeros(3)
    memo = {} if memo is None else memo
    table = standing if isinstance(standing, Standing) else Standing([Block(*s) for s in standing])
    way = step.tobytes()
    for body, T_grip_body in moving:
        shapes = shapes_of(body)
        poses = T_world_grip @ T_grip_body @ shapes.poses
        near = table.within(poses, shapes, step, need)
        for k, i in near:
            p, T_p = body.pieces[k], poses[k]
            name, q, T_q, place = table.rows[i]
            if (body.name, name) in allowed:
                continue
            key = (p, q, T_p.tobytes(), place, way, need)
            if key not in memo:
                memo[key] = _advance(p, T_p, q, T_q, direction, length, need)
            d = memo[key]
            if d is not None:
                return Hit(body.name, name, d, need)
    return None


class Block:
    """A body that stands somewhere: its shapes with name, T_world_shape and the same as bytes, and the boxes
    around them."""

    def __init__(self, body: Body, T_world_body: Array) -> None:
        self.body, self.T_world_body = body, T_world_body
        poses = T_world_body @ np.array([q.pose for q in body.pieces]).reshape(-1, 4, 4)
        self.rows = [(body.name, q, T, T.tobytes()) for q, T in zip(body.pieces, poses, strict=True)]
        self.turned = np.ascontiguousarray(poses[:, :3, :3].transpose(0, 2, 1))
        middle = np.array([q.middle for q in body.pieces]).reshape(-1, 3)
        self.origin = np.einsum("kij,kj->ki", self.turned, poses[:, :3, 3]) + middle
        self.half = np.array([q.half for q in body.pieces]).reshape(-1, 3)


class Standing:
    """Everything that stands still, as one table, to sort out quickly what a line cannot come near."""

    def __init__(self, blocks: list[Block]) -> None:
        self.blocks = blocks
        self.rows = [row for b in blocks for row in b.rows]
        self.turned = np.concatenate([np.zeros((0, 3, 3)), *(b.turned for b in blocks)])
        self.origin = np.concatenate([np.zeros((0, 3)), *(b.origin for b in blocks)])
        self.half = np.concatenate([np.zeros((0, 3)), *(b.half for b in blocks)])

    def within(self, poses: Array, shapes: Shapes, step: Array, need: float) -> list[tuple[int, int]]:
        """Pairs (shape, row): shapes at T_world_shape (k, 4, 4), carried by `step`, of which the box may come
        nearer than `need` [m] to the box of a row."""
        return _kernel.near_pairs(
            poses, shapes.middles[:, :3, 0], shapes.halves, self.turned, self.origin, self.half, step,
            need + _ROUNDING,
        )  # fmt: skip


def _advance(
    p: Piece, T_start: Array, q: Piece, T_q: Array, direction: Array, length: float, need: float
) -> float | None:
    """The distance at which the pair comes closer than `need`, or None if it never does."""
    whole = along_its_axis(p, T_start, length * direction)
    if whole is not None and piece_distance(*whole, q, T_q, need) >= need:
        return None
    s, pair, start = 0.0, Pair(p, T_start, q, T_q), T_start[:3, 3]
    while True:
        d = pair.distance(length - s + need)
        if d < need:
            return d
        if s >= length:
            return None
        s = min(length, s + max(d - need / 2, need / 2))
        pair.moved_to(start + s * direction)
