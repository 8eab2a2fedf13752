"""What the proof works out on triangle meshes: convexity, drawing in, and whether a point lies inside."""

from __future__ import annotations

import numpy as np

from handfast.proof.lengths import lengths
from handfast.proof.stl import Array, Triangles, alike


def normals(vertices: Array, triangles: Triangles) -> Array:
    """Outward unit normals (t, 3); zero for a triangle without area."""
    a, b, c = vertices[triangles[:, 0]], vertices[triangles[:, 1]], vertices[triangles[:, 2]]
    cross = np.cross(b - a, c - a)
    length = lengths(cross)[:, None]
    return np.asarray(np.divide(cross, length, out=np.zeros_like(cross), where=length > 1e-16))


def is_convex(vertices: Array, triangles: Triangles, slack: float = 1e-7) -> bool:
    """True if every vertex lies on the inner side of every face, to within `slack` [m]: then the hull is the
    mesh."""
    outward = normals(vertices, triangles)
    offsets = np.einsum("ij,ij->i", outward, vertices[triangles[:, 0]])
    return all(
        float(np.max(vertices @ normal - offset)) <= slack
        for normal, offset in zip(outward, offsets, strict=True)
    )


def drawn_in(vertices: Array, triangles: Triangles, depth: float) -> Array:
    """The vertices (v, 3) moved so that every face lies `depth` [m] further inside: shafts thinner, holes
    wider.

    Each vertex moves by the smallest step d with n . d = -depth for the normals n of its faces (least squares
    where more than three disagree), at most three times depth: a sharper corner than that is drawn in less,
    which is the strict side.
    """
    outward = np.round(normals(vertices, triangles) * 1e6).astype(np.int64)
    corners = np.column_stack([triangles.reshape(-1), np.repeat(outward, 3, axis=0)])
    corners = corners[corners[:, 1:].any(axis=1)]
    around = corners[alike(corners)[0]]
    owner, first, count = np.unique(around[:, 0], return_index=True, return_counts=True)
    steps = np.zeros_like(vertices)
    for size in np.unique(count):
        same = count == size
        faces = around[first[same][:, None] + np.arange(size), 1:] / 1e6
        steps[owner[same]] = _steps(faces, depth)
    return np.asarray(vertices + steps)


def _steps(faces: Array, depth: float) -> Array:
    """Steps (m, 3) of vertices with k faces each, of normals (m, k, 3)."""
    step = np.linalg.pinv(faces, rcond=1e-4) @ np.full(faces.shape[1], -depth)
    length = np.linalg.norm(step, axis=1, keepdims=True)
    return np.asarray(step * np.minimum(1.0, 3 * depth / np.maximum(length, 1e-300)))


def contains(vertices: Array, triangles: Triangles, point: Array) -> bool:
    """True if a closed mesh encloses the point (3,): its solid angle seen from there is 4 pi.

    Source: A. van Oosterom, J. Strackee, The solid angle of a plane triangle, IEEE Trans. Biomed. Eng. 30
    (1983) 125.
    """
    a, b, c = (vertices[triangles[:, i]] - point for i in range(3))
    la, lb, lc = (lengths(v) for v in (a, b, c))
    top = np.einsum("ij,ij->i", a, np.cross(b, c))
    dots = [np.einsum("ij,ij->i", p, q) for p, q in ((a, b), (b, c), (c, a))]
    bottom = la * lb * lc + dots[0] * lc + dots[1] * la + dots[2] * lb
    return abs(float(np.sum(2 * np.arctan2(top, bottom)))) > 2 * np.pi
