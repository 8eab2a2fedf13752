"""How a part lies still on a flat surface: its resting poses."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from handfast.spatial import se3
from handfast.spatial.se3 import Array

_TIPS = np.tan(np.deg2rad(8))  # facets of a flank drawn with 24 sides or more tip over at less
_ROUND = np.cos(np.deg2rad(20))  # and bend by less from one to the next
_FLAT = np.cos(np.deg2rad(0.5))  # hull faces whose normals differ by less lie in one plane


@dataclass(frozen=True, eq=False, slots=True)
class RestingPose:
    """T_surface_part (4, 4): the part on the surface z = 0, the centre of mass above the origin; margin: from
    the centre of mass, seen from above, to the nearest edge it could tip over [m]; share: of random throws
    that end near this pose, by the solid angle of the face seen from the centre of mass (Boothroyd's estimate
    for parts that do not roll on)."""

    T_surface_part: Array
    margin: float
    share: float


def resting_poses(vertices: Array, centre_of_mass: Array, least_margin: float = 0.001) -> list[RestingPose]:
    """Stable resting poses of the convex hull of vertices (n, 3) [m], the most likely first.

    A face is stable if the centre of mass stands over it by `least_margin` [m] and it is no facet of a round
    flank, over whose edge the part would roll on.
    """
    found, faces = [], _faces(vertices)
    for normal, corners in faces:
        down = _turned_down(normal)
        flat = corners @ down[:3, :3].T
        centre = down[:3, :3] @ centre_of_mass
        margin, floor = _inside_by(flat[:, :2], centre[:2]), float(flat[:, 2].mean())
        height = max(float(centre[2]) - floor, 1e-9)  # nothing where the centre lies in the face itself
        if margin >= least_margin and not _rolls(normal, corners, faces, margin / height):
            pose = down.copy()
            pose[:3, 3] = [-centre[0], -centre[1], -floor]
            found.append(RestingPose(pose, margin, _solid_angle(corners - centre_of_mass) / (4 * np.pi)))
    return sorted(found, key=lambda r: -r.share)


def _rolls(normal: Array, corners: Array, faces: list[tuple[Array, Array]], slope: float) -> bool:
    """Whether a face is a facet of a round flank: it tips over at a small slope, and onto a face that bends
    away from it by little."""
    if slope > _TIPS:
        return False
    bends = np.array([n for n, _ in faces]) @ normal
    near = [c for (n, c), bend in zip(faces, bends, strict=True) if bend > _ROUND and n is not normal]
    return any(_common(c, corners) >= 2 for c in near)


def _common(a: Array, b: Array) -> int:
    """How many points two sets (m, 3) have in common."""
    return int((np.abs(a[:, None] - b[None]).max(axis=2) < 1e-9).sum())


def _faces(vertices: Array) -> list[tuple[Array, Array]]:
    """Faces of the convex hull: outward normal (3,) and the points on it (m, 3)."""
    import manifold3d

    mesh = manifold3d.Manifold.hull_points(vertices).to_mesh()
    points = np.asarray(mesh.vert_properties, dtype=np.float64)[:, :3]
    triangles = np.asarray(mesh.tri_verts)
    edges = (
        points[triangles[:, 1]] - points[triangles[:, 0]],
        points[triangles[:, 2]] - points[triangles[:, 0]],
    )
    cross = np.cross(*edges)
    area = np.linalg.norm(cross, axis=1)
    normals = cross / np.maximum(area, 1e-300)[:, None]
    faces: list[tuple[Array, Array]] = []
    left = np.argsort(-area)
    while len(left):
        seed = left[0]
        plane = normals[seed] @ points[triangles[seed, 0]]
        same = (normals[left] @ normals[seed] > _FLAT) & (
            np.abs(points[triangles[left]] @ normals[seed] - plane).max(axis=1) < 1e-5
        )
        faces.append((normals[seed], points[np.unique(triangles[left[same]])]))
        left = left[~same]
    return faces


def _turned_down(normal: Array) -> Array:
    """A rotation that points the normal down, as a pose (4, 4)."""
    axis = np.cross(normal, [0.0, 0.0, -1.0])
    length = float(np.linalg.norm(axis))
    if length < 1e-9:
        return np.eye(4) if normal[2] < 0 else se3.rotation(np.array([1.0, 0.0, 0.0]), np.pi)
    return se3.rotation(axis / length, float(np.arctan2(length, -normal[2])))


def _inside_by(polygon: Array, point: Array) -> float:
    """How far inside the convex hull of 2-D points (m, 2) a point lies [m]; negative outside."""
    middle = polygon.mean(axis=0)
    ring = polygon[np.argsort(np.arctan2(*(polygon - middle).T[::-1]))]
    ring = _hull(ring)
    a, b = ring, np.roll(ring, -1, axis=0)
    along = b - a
    length = np.linalg.norm(along, axis=1)
    keep = length > 1e-9
    offset = point - a
    inside = (along[:, 0] * offset[:, 1] - along[:, 1] * offset[:, 0])[keep] / length[keep]
    return float(inside.min()) if keep.sum() >= 3 else -1.0


def _hull(points: Array) -> Array:
    """Convex hull of 2-D points, counter-clockwise (Andrew's monotone chain)."""
    order = points[np.lexsort((points[:, 1], points[:, 0]))]

    def half(rows: Array) -> list[Array]:
        chain: list[Array] = []
        for p in rows:
            while len(chain) > 1 and _turn(chain[-1] - chain[-2], p - chain[-2]) <= 0:
                chain.pop()
            chain.append(p)
        return chain[:-1]

    return np.array(half(order) + half(order[::-1]))


def _turn(a: Array, b: Array) -> float:
    """Cross product of two vectors (2,), positive if b is to the left of a."""
    return float(a[0] * b[1] - a[1] * b[0])


def _solid_angle(corners: Array) -> float:
    """Solid angle of a convex polygon (m, 3) seen from the origin [sr] (Van Oosterom and Strackee 1983)."""
    centre = corners.mean(axis=0)
    normal = centre / max(float(np.linalg.norm(centre)), 1e-12)
    x = np.cross(normal, [1.0, 0.0, 0.0] if abs(normal[0]) < 0.9 else [0.0, 1.0, 0.0])
    flat = np.column_stack([(corners - centre) @ x, (corners - centre) @ np.cross(normal, x)])
    ring = corners[np.argsort(np.arctan2(flat[:, 1], flat[:, 0]))]
    total = 0.0
    for b, c in pairwise(ring[1:]):
        a = ring[0]
        na, nb, nc = (float(np.linalg.norm(v)) for v in (a, b, c))
        below = na * nb * nc + (a @ b) * nc + (a @ c) * nb + (b @ c) * na
        total += 2 * float(np.arctan2(abs(a @ np.cross(b, c)), below))
    return total
