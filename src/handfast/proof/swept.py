"""What a surface passes over when it is moved along a straight line: the outside of it, as triangles."""

from __future__ import annotations

import numpy as np

from handfast.proof.mesh import normals
from handfast.proof.stl import Array, Triangles

ACROSS = 1e-3
"""A face whose normal has a smaller share along the line than this counts as lying along it."""


def swept(vertices: Array, triangles: Triangles, along: Array, half: float) -> tuple[Array, Triangles]:
    """Triangles that hold the outside of everything a closed surface passes over when it moves by -half to
    +half [m] along the unit vector `along` (3,).

    They are the surface at both ends, and what its edges pass over. Where the inside of a face passes over a
    point at an inner instant, it passes over all points round it too, unless the face lies along the line;
    then the ends of the face and its edges cover what it passes over. The same holds of an edge whose faces
    look the same way along the line. All other edges are taken.
    """
    count = len(vertices)
    ends = np.concatenate([vertices - half * along, vertices + half * along])
    edges = _turning_edges(vertices, triangles, along)
    a, b = edges[:, 0], edges[:, 1]
    sides = [np.stack([a, b, b + count], axis=1), np.stack([a, b + count, a + count], axis=1)]
    return ends, np.concatenate([triangles, triangles + count, *sides])


def _turning_edges(vertices: Array, triangles: Triangles, along: Array) -> Triangles:
    """Edges (e, 2) whose faces do not all look the same way along the line; edges of one face alone too."""
    facing = normals(vertices, triangles) @ along
    side = np.where(facing > ACROSS, 1, np.where(facing < -ACROSS, -1, 0))
    begin, end = triangles.T.reshape(-1), np.roll(triangles, -1, axis=1).T.reshape(-1)
    # One number an edge: sorting rows of two takes ten times as long.
    keys, of = np.unique(np.minimum(begin, end) * len(vertices) + np.maximum(begin, end), return_inverse=True)
    edges = np.column_stack(np.divmod(keys, len(vertices)))
    faces = np.bincount(of, minlength=len(edges))
    looking = np.bincount(of, weights=np.tile(side, 3), minlength=len(edges))
    turning = np.bincount(of, weights=np.where(begin < end, 1, -1), minlength=len(edges))
    plain = (faces == 2) & (turning == 0) & (np.abs(looking) == 2)
    return np.asarray(edges[~plain])


def outermost(vertices: Array, triangles: Triangles) -> list[Array]:
    """For each connected piece of a surface, its outermost points (6, 3): least and most along each axis."""
    label = np.arange(len(vertices))
    while True:
        least = np.minimum.reduce([label[triangles[:, i]] for i in range(3)])
        before = label.copy()
        for i in range(3):
            np.minimum.at(label, triangles[:, i], least)
        label = label[label]
        if np.array_equal(before, label):
            break
    out = []
    for name in np.unique(label[triangles[:, 0]]):
        own = vertices[label == name]
        out.append(own[[*own.argmin(axis=0), *own.argmax(axis=0)]])
    return out
