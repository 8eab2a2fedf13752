"""Whether bodies can be carried along a straight line: exact, and certain between samples."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast.geometry.body import Body, Piece, piece_distance
from handfast.spatial.se3 import Array

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
    standing: Placed,
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
    still = [(body.name, q, T_body @ q.pose) for body, T_body in standing for q in body.pieces]
    bounds = _Bounds(still)
    for body, T_grip_body in moving:
        for p in body.pieces:
            T_p = T_world_grip @ T_grip_body @ p.pose
            middle = T_p[:3, :3] @ p.middle + T_p[:3, 3]
            for i in bounds.within(middle, direction * length, p.radius + need):
                name, q, T_q = still[i]
                if (body.name, name) in allowed:
                    continue
                key = (p, q, T_p.tobytes(), T_q.tobytes(), step.tobytes(), need)
                if key not in memo:
                    memo[key] = _advance(p, T_p, q, T_q, direction, length, need)
                d = memo[key]
                if d is not None:
                    return Hit(body.name, name, d, need)
    return None


class _Bounds:
    """The boxes around standing shapes, as tables, to sort out quickly what a line cannot come near."""

    def __init__(self, still: list[tuple[str, Piece, Array]]) -> None:
        self.rotation = np.array([T[:3, :3] for _, _, T in still]).reshape(-1, 3, 3)
        self.origin = np.array([T[:3, 3] for _, _, T in still]).reshape(-1, 3)
        self.middle = np.array([q.middle for _, q, _ in still]).reshape(-1, 3)
        self.half = np.array([q.half for _, q, _ in still]).reshape(-1, 3)

    def within(self, centre: Array, step: Array, reach: float) -> NDArray[np.intp]:
        """Rows whose box a ball of radius `reach` [m], carried from `centre` by `step`, may meet."""
        at = np.einsum("kij,ki->kj", self.rotation, centre - self.origin) - self.middle
        way = np.einsum("kij,i->kj", self.rotation, step)
        low, high = np.minimum(at, at + way), np.maximum(at, at + way)
        gap = np.maximum(np.maximum(low - self.half, -self.half - high), 0.0)
        return np.flatnonzero((gap * gap).sum(axis=1) < reach * reach)


def _advance(
    p: Piece, T_start: Array, q: Piece, T_q: Array, direction: Array, length: float, need: float
) -> float | None:
    """The distance at which the pair comes closer than `need`, or None if it never does."""
    s, T_p = 0.0, T_start.copy()
    while True:
        T_p[:3, 3] = T_start[:3, 3] + s * direction
        d = piece_distance(p, T_p, q, T_q, length - s + need)
        if d < need:
            return d
        if s >= length:
            return None
        s = min(length, s + max(d - need / 2, need / 2))
