"""Boxes and cylinders as triangles."""

from __future__ import annotations

import numpy as np

from handfast.proof.stl import Array, Triangles

SIDES = 64


def outline(size: tuple[float, ...], inside: bool = False) -> tuple[Array, Triangles]:
    """Vertices (v, 3) [m] and outward triangles (t, 3) of a box (three edges) or a cylinder (radius, length)
    along z, centred on its frame. The flat sides of a cylinder touch it from outside, or, with `inside`, its
    edges lie on it."""
    if len(size) == 3:
        return _prism(np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array(size[:2]) / 2, size[2])
    radius, length = size
    angle = np.arange(SIDES) * 2 * np.pi / SIDES
    reach = radius if inside else radius / np.cos(np.pi / SIDES)
    return _prism(reach * np.stack([np.cos(angle), np.sin(angle)], axis=1), length)


def _prism(corners: Array, length: float) -> tuple[Array, Triangles]:
    """Over a convex polygon (k, 2), counted against the clock."""
    k = len(corners)
    low, high = (np.column_stack([corners, np.full(k, z)]) for z in (-length / 2, length / 2))
    this = np.arange(k)
    following = (this + 1) % k
    sides = [[this, following, following + k], [this, following + k, this + k]]
    fan = np.arange(1, k - 1)
    ends = [[np.zeros_like(fan), fan + 1, fan], [np.full_like(fan, k), fan + k, fan + k + 1]]
    triangles = [np.stack(each, axis=1) for each in (*sides, *ends)]
    return np.concatenate([low, high]), np.concatenate(triangles)
