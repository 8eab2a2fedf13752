"""A closed mesh -> the same graph of faces that a drawn solid has, so that the same search finds its
features."""

from __future__ import annotations

import numpy as np

from handfast.geometry.cad.brep_graph import bend_between
from handfast.geometry.cad.face_graph import Bend, Edge, Face, FaceGraph, SurfaceKind
from handfast.geometry.cad.facet_groups import Group, grouped
from handfast.geometry.cad.facet_table import Facets, Numbers, facets
from handfast.spatial.se3 import Array

CLOSE = 1.5e-6
"""How far corners may lie off the surface that they stand for [m]: single precision over 10 m, or three
decimals of a millimetre."""
_SHARES = 5  # places along a border at which its bend is looked at


class OpenMeshError(ValueError):
    """A mesh that does not enclose a body, with what is wrong."""


def mesh_graph(vertices: Array, triangles: Numbers, tolerance: float = CLOSE) -> FaceGraph:
    """Vertices (n, 3) [m], equal ones joined; triangles (m, 3), outward by the right-hand rule. Raises
    OpenMeshError."""
    real = (triangles != np.roll(triangles, 1, axis=1)).all(axis=1)
    triangles = triangles[real]
    beside = _beside(triangles)
    volume, centre, inertia = _mass(vertices[triangles])
    if volume <= 0:
        raise OpenMeshError("its facets look inward, or enclose nothing")
    f = facets(vertices, triangles, beside, tolerance)
    groups = grouped(f)
    of_face = np.empty(len(triangles), dtype=np.int64)
    for k, group in enumerate(groups):
        of_face[group.triangles] = k
    faces = tuple(_face(f, group, k) for k, group in enumerate(groups))
    deviation = max((g.deviation for g in groups), default=0.0)
    edges = _edges(f, of_face, faces)
    return FaceGraph(faces, edges, vertices, triangles, of_face, volume, centre, inertia, True, deviation)


def _beside(triangles: Numbers) -> Numbers:
    """The triangle across each edge (m, 3). Raises OpenMeshError."""
    start, stop = triangles, np.roll(triangles, -1, axis=1)
    count = int(triangles.max()) + 1 if len(triangles) else 1
    there, back = (start * count + stop).ravel(), (stop * count + start).ravel()
    order = np.argsort(there, kind="stable")
    if len(np.unique(there)) != len(there):
        raise OpenMeshError("some of its edges have more than two facets")
    at = np.searchsorted(there[order], back)
    at = np.minimum(at, len(order) - 1)
    matched = there[order][at] == back
    if not matched.all():
        raise OpenMeshError(
            f"{int((~matched).sum())} of its edges have a facet at one side only: it has gaps"
        )
    return np.asarray((order[at] // 3).reshape(-1, 3))


def _mass(corners: Array) -> tuple[float, Array, Array]:
    """Volume [m3], centre of mass [m], inertia (3, 3) [m5] about it at unit density, by the tetrahedra of
    each facet with the origin."""
    reference = corners.mean(axis=(0, 1))
    a, b, c = (corners - reference).transpose(1, 0, 2)
    six = (a * np.cross(b, c)).sum(axis=1)
    volume = float(six.sum()) / 6
    if volume <= 0:
        return volume, reference, np.zeros((3, 3))
    total = a + b + c
    centre = (six[:, None] * total).sum(axis=0) / 24 / volume
    second = sum(np.einsum("t,ti,tj->ij", six, p, p) for p in (a, b, c, total)) / 120
    second = second - volume * np.outer(centre, centre)
    return volume, centre + reference, np.trace(second) * np.eye(3) - second


def _face(f: Facets, group: Group, index: int) -> Face:
    own = np.unique(f.triangles[group.triangles])
    corners, middles = f.vertices[own], f.middles[group.triangles]
    areas, normals = f.areas[group.triangles], f.normals[group.triangles]
    area = float(areas.sum())
    centre = (areas[:, None] * middles).sum(axis=0) / max(area, 1e-300)
    s = group.surface
    if s is None:
        mean = (areas[:, None] * normals).sum(axis=0)
        axis = mean / max(float(np.linalg.norm(mean)), 1e-300)
        points = corners if group.flat else np.concatenate([corners, middles])
        kind: SurfaceKind = "plane" if group.flat else "free"
        return Face(
            index, kind, centre if group.flat else np.zeros(3), axis, 0.0, 0.0, 0.0, 1, points, area, centre,
            samples=middles, normals=normals,
        )  # fmt: skip
    outward = 1 if float((areas * (s.normals(middles) * normals).sum(axis=1)).sum()) > 0 else -1
    halves = (
        f.vertices[f.triangles[group.triangles]] + f.vertices[f.triangles[group.triangles][:, [1, 2, 0]]]
    ) / 2
    inside = np.concatenate([halves.reshape(-1, 3), middles])
    inside = s.nearest(inside)
    return Face(
        index, s.kind, s.origin, s.axis, s.radius, s.half_angle, s.tube, outward,
        np.concatenate([corners, inside]), area, centre, samples=corners,
        normals=outward * s.normals(corners),
    )  # fmt: skip


def _edges(f: Facets, of_face: Numbers, faces: tuple[Face, ...]) -> tuple[Edge, ...]:
    """Chains of mesh edges between the same two faces."""
    borders: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for t, k in zip(*np.nonzero(of_face[:, None] < of_face[f.beside]), strict=True):
        a, b = int(of_face[t]), int(of_face[f.beside[t, k]])
        # As face b has it on its left.
        borders.setdefault((a, b), []).append((int(f.triangles[t, (k + 1) % 3]), int(f.triangles[t, k])))
    found = []
    for (a, b), steps in borders.items():
        for chain in _chains(steps):
            points = f.vertices[chain]
            closed = chain[0] == chain[-1]
            found.append(
                Edge((a, b), points, _bend(points, faces[a], faces[b]), closed, _is_straight(points))
            )
    return tuple(found)


def _chains(steps: list[tuple[int, int]]) -> list[list[int]]:
    """Steps from corner to corner, put one after the other."""
    after: dict[int, list[int]] = {}
    enters: dict[int, int] = {}
    for a, b in steps:
        after.setdefault(a, []).append(b)
        enters[b] = enters.get(b, 0) + 1
    found = []
    starts = [a for a in after if enters.get(a, 0) < len(after[a])]
    while after:
        at = next((a for a in starts if a in after), None) or next(iter(after))
        chain = [at]
        while at in after:
            onward = after[at].pop()
            if not after[at]:
                del after[at]
            chain.append(onward)
            at = onward
            if at == chain[0]:
                break
        found.append(chain)
    return found


def _bend(points: Array, a: Face, b: Face) -> Bend:
    """As most of some places along the border show it."""
    told: list[Bend] = []
    for k in np.unique(np.linspace(0, len(points) - 2, _SHARES).astype(int)):
        told.append(bend_between(points[k], points[k + 1] - points[k], a, b))
    return max(set(told), key=lambda bend: (told.count(bend), bend))


def _is_straight(points: Array) -> bool:
    along = points[-1] - points[0]
    length = float(np.linalg.norm(along))
    if length < 1e-9:
        return False
    off = np.linalg.norm(np.cross(points - points[0], along / length), axis=1)
    return bool(off.max() < CLOSE)
