"""Faces that are one surface, joined: CAD programs cut a bore in two halves, and a face along every edge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.geometry.cad.face_graph import Bend, Edge, Face, FaceGraph, SurfaceKind
from handfast.geometry.cad.snapped import snapped
from handfast.spatial.se3 import Array

SAME = 5e-6
"""Surfaces that lie closer are one [m]: well over a CAD program's own 0.1 um, well under any fit."""
ALONG = np.cos(np.deg2rad(0.1))
"""Axes that are closer to parallel are parallel."""


@dataclass(frozen=True, eq=False, slots=True)
class Patch:
    """Faces of one surface that hang together; fields as of a face. index: among the patches of the part."""

    index: int
    kind: SurfaceKind
    origin: Array
    axis: Array
    radius: float
    half_angle: float
    tube: float
    outward: int
    faces: tuple[int, ...]
    points: Array
    area: float
    centre: Array
    recognised: bool


@dataclass(frozen=True, eq=False, slots=True)
class Patches:
    """all: the patches; beside: by patch, the neighbours and the edges shared with each."""

    all: tuple[Patch, ...]
    beside: dict[int, dict[int, list[Edge]]]

    def around(self, pieces: tuple[int, ...]) -> dict[int, list[Edge]]:
        """Neighbours of several patches together, and the edges shared with each."""
        if len(pieces) == 1:
            return self.beside[pieces[0]]
        found: dict[int, list[Edge]] = {}
        for i in pieces:
            for n, edges in self.beside[i].items():
                if n not in pieces:
                    found.setdefault(n, []).extend(edges)
        return found

    def bend(self, a: int, b: int) -> Bend | None:
        """How the outside turns between two patches: as along most of their common edge; None: they do not
        meet."""
        edges = self.beside.get(a, {}).get(b)
        if not edges:
            return None
        length: dict[Bend, float] = {}
        for edge in edges:
            run = float(np.linalg.norm(np.diff(edge.points, axis=0), axis=1).sum())
            length[edge.bend] = length.get(edge.bend, 0.0) + run
        return max(length, key=lambda bend: length[bend])


def patches_of(graph: FaceGraph) -> Patches:
    """Join what is one surface."""
    everything = snapped(graph.faces)
    parent = list(range(len(everything)))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for edge in graph.edges:
        a, b = (everything[i] for i in edge.faces)
        if same_surface(a, b):
            parent[root(a.index)] = root(b.index)
    members: dict[int, list[Face]] = {}
    for face in everything:
        members.setdefault(root(face.index), []).append(face)
    joined = tuple(_joined(k, faces) for k, faces in enumerate(members.values()))
    owner = {f: patch.index for patch in joined for f in patch.faces}
    beside: dict[int, dict[int, list[Edge]]] = {patch.index: {} for patch in joined}
    for edge in graph.edges:
        a_, b_ = owner[edge.faces[0]], owner[edge.faces[1]]
        if a_ != b_:
            beside[a_].setdefault(b_, []).append(edge)
            beside[b_].setdefault(a_, []).append(edge)
    return Patches(joined, beside)


def _joined(index: int, faces: list[Face]) -> Patch:
    big = max(faces, key=lambda f: f.area)
    area = sum(f.area for f in faces)
    centre = sum((f.area * f.centre for f in faces), np.zeros(3)) / max(area, 1e-300)
    return Patch(
        index, big.kind, big.origin, big.axis, big.radius, big.half_angle, big.tube, big.outward,
        tuple(f.index for f in faces), np.concatenate([f.points for f in faces]), area, centre,
        any(f.recognised for f in faces),
    )  # fmt: skip


def same_surface(a: Face | Patch, b: Face | Patch) -> bool:
    """Whether two faces lie on one surface, material on the same side."""
    if a.kind != b.kind or a.kind == "free":
        return False
    if a.kind == "plane":
        return bool(a.axis @ b.axis > ALONG) and abs(float((b.origin - a.origin) @ a.axis)) < SAME
    if a.outward != b.outward:
        return False
    if a.kind == "sphere":
        return bool(np.linalg.norm(a.origin - b.origin) < SAME) and abs(a.radius - b.radius) < SAME
    if abs(float(a.axis @ b.axis)) < ALONG or off_axis(a, b.origin) > SAME:
        return False
    if a.kind == "cylinder":
        return abs(a.radius - b.radius) < SAME
    if a.kind == "torus":
        level = abs(float((a.origin - b.origin) @ a.axis))
        return level < SAME and abs(a.radius - b.radius) < SAME and abs(a.tube - b.tube) < SAME
    grows = float(np.sign(a.axis @ b.axis)) * np.tan(b.half_angle)
    at_b = a.radius + float((b.origin - a.origin) @ a.axis) * np.tan(a.half_angle)
    return bool(abs(np.tan(a.half_angle) - grows) < 2e-3 and abs(at_b - b.radius) < SAME)


def off_axis(surface: Face | Patch, point: Array) -> float:
    """Distance of a point from the axis of a surface [m]."""
    away = point - surface.origin
    return float(np.linalg.norm(away - (away @ surface.axis) * surface.axis))
