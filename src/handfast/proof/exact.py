"""Exact distances between two placed shapes, by coal."""

from __future__ import annotations

from typing import Any

import coal

from handfast.proof.stl import Array

ROUNDING = 1e-6
"""What the distance algorithms may be off by [m]; always taken to the strict side."""


def gap_up_to(enough: float, a: Any, T_world_a: Array, b: Any, T_world_b: Array) -> float:
    """The smaller of the distance and `enough` [m].

    A distance already known to the query prunes everything further away: near nested surfaces that is ten to
    a hundred times quicker than the full distance or a collision query with a security margin.
    """
    found = coal.DistanceResult()
    found.min_distance = enough
    coal.distance(a, _transform(T_world_a), b, _transform(T_world_b), coal.DistanceRequest(), found)
    return min(float(found.min_distance), enough)


def apart_by(a: Any, T_world_a: Array, b: Any, T_world_b: Array, margin: float) -> bool:
    """True if the shapes are further apart than margin [m]."""
    enough = margin + ROUNDING
    return gap_up_to(enough, a, T_world_a, b, T_world_b) >= enough


def distance(a: Any, T_world_a: Array, b: Any, T_world_b: Array) -> float:
    """Distance [m]; zero or less where they overlap (a depth only between primitives and convex shapes)."""
    found = coal.DistanceResult()
    return float(
        coal.distance(a, _transform(T_world_a), b, _transform(T_world_b), coal.DistanceRequest(), found)
    )


def _transform(T: Array) -> Any:
    return coal.Transform3s(T[:3, :3], T[:3, 3])
