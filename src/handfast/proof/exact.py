"""Exact distances between two placed shapes, by coal."""

from __future__ import annotations

from typing import Any

import coal

from handfast.proof.stl import Array


def apart_by(a: Any, T_world_a: Array, b: Any, T_world_b: Array, margin: float) -> bool:
    """True if the shapes are further apart than margin [m]."""
    ask = coal.CollisionRequest(coal.CollisionRequestFlag.NO_REQUEST, 1)
    ask.security_margin = margin
    found = coal.CollisionResult()
    coal.collide(a, _transform(T_world_a), b, _transform(T_world_b), ask, found)
    return not found.isCollision()


def distance(a: Any, T_world_a: Array, b: Any, T_world_b: Array) -> float:
    """Distance [m]; zero or less where they overlap (a depth only between primitives and convex shapes)."""
    found = coal.DistanceResult()
    return float(
        coal.distance(a, _transform(T_world_a), b, _transform(T_world_b), coal.DistanceRequest(), found)
    )


def _transform(T: Array) -> Any:
    return coal.Transform3s(T[:3, :3], T[:3, 3])
