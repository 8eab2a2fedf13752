"""The facets of a mesh with what is beside each, and the flats, facets of one plane, that they make."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast.spatial.se3 import Array

Numbers = NDArray[np.int64]
Flags = NDArray[np.bool_]
FLAT = np.deg2rad(0.05)
"""Facets that turn less into each other lie in one plane."""
SMOOTH = np.deg2rad(34.0)
"""Facets of one round surface turn no more into each other: twelve around a full circle."""


@dataclass(frozen=True, eq=False, slots=True)
class Facets:
    """vertices (n, 3) [m], triangles (m, 3); normals, areas, middles of the triangles; beside (m, 3): the
    triangle across each edge (corner k to k + 1); turn (m, 3): angle between the two normals [rad]; flat_of
    (m,): number of the flat, one plane, that each belongs to; of_flat: the triangles of each; gentle (m, 3):
    whether the edge leads to another flat with little turn."""

    vertices: Array
    triangles: Numbers
    normals: Array
    areas: Array
    middles: Array
    beside: Numbers
    turn: Array
    tolerance: float
    flat_of: Numbers
    of_flat: tuple[Numbers, ...]
    gentle: Flags


def facets(vertices: Array, triangles: Numbers, beside: Numbers, tolerance: float) -> Facets:
    """beside: as of Facets; tolerance: how far corners may lie off what they stand for [m]."""
    corners = vertices[triangles]
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    twice = np.linalg.norm(cross, axis=1)
    normals = cross / np.maximum(twice, 1e-300)[:, None]
    turn = np.arccos(np.clip((normals[:, None, :] * normals[beside]).sum(axis=2), -1, 1))
    # A sliver's normal says little: it lies in a plane if its far corner does.
    apex = vertices[_opposite(triangles, beside)]
    off = np.abs(((apex - corners[:, :1]) * normals[:, None, :]).sum(axis=2))
    flat = (turn < FLAT) | ((off < tolerance / 4) & ((turn < SMOOTH) | (turn > np.pi - SMOOTH)))
    flat |= flat[beside, _back(beside)]
    flat_of = joined(beside, flat)
    order = np.argsort(flat_of, kind="stable")
    members = np.split(order, np.cumsum(np.bincount(flat_of))[:-1])
    gentle = (flat_of[:, None] != flat_of[beside]) & (turn < SMOOTH)
    return Facets(
        vertices, triangles, normals, twice / 2, corners.mean(axis=1), beside, turn, tolerance, flat_of,
        tuple(members), gentle,
    )  # fmt: skip


def _opposite(triangles: Numbers, beside: Numbers) -> Numbers:
    """The corner of the triangle across each edge that is not on the edge (m, 3)."""
    across = triangles[beside]
    a, b = triangles[:, :, None], np.roll(triangles, -1, axis=1)[:, :, None]
    return np.asarray(np.where((across != a) & (across != b), across, -1).max(axis=2))


def _back(beside: Numbers) -> Numbers:
    """Which edge of the triangle across leads back (m, 3)."""
    rows = np.arange(len(beside))[:, None, None]
    return np.asarray((beside[beside] == rows).argmax(axis=2))


def joined(beside: Numbers, joins: Flags) -> Numbers:
    """A number for each triangle: equal for those that joining edges connect."""
    label = np.full(len(beside), -1, dtype=np.int64)
    count = 0
    for seed in range(len(beside)):
        if label[seed] >= 0:
            continue
        label[seed], front = count, [seed]
        while front:
            t = front.pop()
            for k in range(3):
                other = int(beside[t, k])
                if joins[t, k] and label[other] < 0:
                    label[other] = count
                    front.append(other)
        count += 1
    return label
