"""Exact distances between two placed shapes: from a mesh with hollows by the proof's own search, all others
by coal."""

from __future__ import annotations

import math
from typing import Any

import coal

from handfast.proof import _compiled
from handfast.proof.faceted import Faceted
from handfast.proof.stl import Array

ROUNDING = 1e-6
"""What the distance algorithms may be off by [m]; always taken to the strict side."""


def gap_up_to(enough: float, a: Any, T_world_a: Array, b: Any, T_world_b: Array) -> float:
    """The smaller of the distance and `enough` [m].

    A distance already known to the query prunes everything further away: near nested surfaces that is ten to
    a hundred times quicker than the full distance or a collision query with a security margin.
    """
    if _searched(a, b):
        return _compiled.gap_up_to(enough, a.surface, T_world_a, b.surface, T_world_b)
    found = coal.DistanceResult()
    found.min_distance = enough
    _of_coal(a, T_world_a, b, T_world_b, found)
    return min(float(found.min_distance), enough)


def nearer(than: float, a: Any, T_world_a: Array, b: Any, T_world_b: Array) -> bool:
    """True if the shapes come nearer than that [m]: as gap_up_to(than, ...) < than, sooner known."""
    if _searched(a, b):
        return _compiled.nearer(than, a.surface, T_world_a, b.surface, T_world_b)
    return gap_up_to(than, a, T_world_a, b, T_world_b) < than


def apart_by(a: Any, T_world_a: Array, b: Any, T_world_b: Array, margin: float) -> bool:
    """True if the shapes are further apart than margin [m]."""
    return not nearer(margin + ROUNDING, a, T_world_a, b, T_world_b)


def distance(a: Any, T_world_a: Array, b: Any, T_world_b: Array) -> float:
    """Distance [m]; zero or less where they overlap (a depth only between primitives and convex shapes)."""
    gap = gap_up_to(math.inf, a, T_world_a, b, T_world_b) if _searched(a, b) else 0.0
    return gap if gap > 0 else _of_coal(a, T_world_a, b, T_world_b, coal.DistanceResult())


def _searched(a: Any, b: Any) -> bool:
    """True for a mesh with hollows and anything of which the triangles are known."""
    return isinstance(a, Faceted) and isinstance(b, Faceted) and not (a.solid and b.solid)


def _of_coal(a: Any, T_world_a: Array, b: Any, T_world_b: Array, found: Any) -> float:
    shapes = [shape.tree if isinstance(shape, Faceted) else shape for shape in (a, b)]
    poses = [coal.Transform3s(T[:3, :3], T[:3, 3]) for T in (T_world_a, T_world_b)]
    return float(coal.distance(shapes[0], poses[0], shapes[1], poses[1], coal.DistanceRequest(), found))
