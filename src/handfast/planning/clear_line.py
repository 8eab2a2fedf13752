"""Whether bodies can be carried along a straight line: exact, and certain between samples."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.geometry.body import Body, distance
from handfast.spatial.se3 import Array

NEAR = 0.0005  # clearance that grasp and mating lines keep from everything they are not meant to touch [m]


@dataclass(frozen=True, slots=True)
class Hit:
    """What a line comes too close to: names, and the distance there [m]."""

    moving: str
    standing: str
    distance: float


Allowed = frozenset[tuple[str, str]]


def blocked(
    moving: list[tuple[Body, Array]],
    standing: list[tuple[Body, Array]],
    T_world_grip: Array,
    step: Array,
    allowed: Allowed = frozenset(),
    need: float = NEAR,
) -> Hit | None:
    """The first body in the way of a pure translation by `step` (3,) [m] of the grip frame from T_world_grip, or None.

    A translation by s changes a distance by at most s, so each pair is advanced by the distance it has left: nothing
    between the samples is missed. allowed: (moving, standing) names that may touch.
    """
    length = float(np.linalg.norm(step))
    direction = step / length if length > 0 else np.zeros(3)
    for body, T_grip_body in moving:
        start = T_world_grip @ T_grip_body
        for other, T_world_other in standing:
            if (body.name, other.name) in allowed:
                continue
            hit = _advance(body, start, other, T_world_other, direction, length, need)
            if hit is not None:
                return hit
    return None


def _advance(
    body: Body, start: Array, other: Body, T_world_other: Array, direction: Array, length: float, need: float
) -> Hit | None:
    s, T = 0.0, start.copy()
    while True:
        T[:3, 3] = start[:3, 3] + s * direction
        d = distance(body, T, other, T_world_other, beyond=length - s + need)
        if d < need:
            return Hit(body.name, other.name, d)
        if s >= length:
            return None
        s = min(length, s + max(d - need / 2, need / 2))
