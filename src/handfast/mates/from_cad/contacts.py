"""Which features of two parts belong together, from where the parts stand: coaxial, coplanar, in mesh."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from handfast.mates.from_cad.placed import Placed, Stretch, span, stretches
from handfast.spatial.se3 import Array
from handfast.standards.threads import coarse_thread

ContactKind = Literal["round", "thread", "slot", "gear", "ring", "face", "aligned"]
PARALLEL = np.cos(np.deg2rad(0.15))
OFF = 20e-6  # two axes, or two planes, that are one [m]
_TIGHTER = 60e-6  # a shaft may be drawn so much thicker than its hole [m]: interference
_LEAST = 0.25e-3  # length in each other that counts [m]
_AREA = 2e-6  # common area of faces that counts [m2]


@dataclass(frozen=True, eq=False, slots=True)
class Contact:
    """a, b: indices of the parts; for round ones a has the hole. features: their names; axis: common
    direction; origin: a point on it [m]; play: hole less shaft as drawn, diametral [m]; engaged: length in
    each other, or common area of faces [m, m2]."""

    kind: ContactKind
    a: int
    b: int
    feature_a: str
    feature_b: str
    axis: Array
    origin: Array
    play: float
    engaged: float

    def other(self, part: int) -> int:
        """The part at the other side."""
        return self.b if part == self.a else self.a

    def feature_of(self, part: int) -> str:
        """The feature of one of the two."""
        return self.feature_a if part == self.a else self.feature_b


def contacts(parts: tuple[Placed, ...]) -> tuple[Contact, ...]:
    """Every contact between two parts whose boxes meet."""
    boxes = [_box(p) for p in parts]
    found: list[Contact] = []
    for i, j in combinations(range(len(parts)), 2):
        if (boxes[i][0] > boxes[j][1] + 1e-3).any() or (boxes[j][0] > boxes[i][1] + 1e-3).any():
            continue
        for a, b in ((i, j), (j, i)):
            found += _round(parts, a, b) + _rings(parts, a, b)
        found += _gears(parts, i, j) + _faces(parts, i, j) + _aligned(parts, i, j)
    return tuple(found)


def _box(part: Placed) -> tuple[Array, Array]:
    T = part.T_assembly_part
    points = part.graph.vertices @ T[:3, :3].T + T[:3, 3]
    return points.min(axis=0), points.max(axis=0)


def _round(parts: tuple[Placed, ...], a: int, b: int) -> list[Contact]:
    """Holes and slots of a, shafts of b."""
    found = []
    for hole in stretches(a, parts[a], ("hole", "slot")):
        if hole.drawn.form == "hexagon socket":
            continue
        for shaft in stretches(b, parts[b], ("shaft",)):
            contact = _in_each_other(parts, hole, shaft)
            if contact is not None:
                found.append(contact)
    return found


def _in_each_other(parts: tuple[Placed, ...], hole: Stretch, shaft: Stretch) -> Contact | None:
    if abs(float(hole.z @ shaft.z)) < PARALLEL:
        return None
    play = hole.diameter - shaft.diameter
    thread = _thread(parts[shaft.part], shaft, hole)
    if not thread and not -_TIGHTER < play <= 0.3 * shaft.diameter + 0.3e-3:
        return None
    low, high = span(hole, hole.origin, hole.z)
    first, last = span(shaft, hole.origin, hole.z)
    engaged = min(high, last) - max(low, first)
    if engaged < _LEAST:
        return None
    away = shaft.origin - hole.origin
    away = away - (away @ hole.z) * hole.z
    is_slot = hole.drawn.feature.kind == "slot"
    if is_slot:
        x = (parts[hole.part].T_assembly_part @ hole.drawn.feature.frame.matrix)[:3, 0]
        along, size = abs(float(away @ x)), hole.drawn.feature.size or (0.0, 0.0)
        aside = float(np.linalg.norm(away - (away @ x) * x))
        if aside > OFF + max(0.0, play) / 2 or along > (size[0] - shaft.diameter) / 2 + OFF:
            return None
    elif float(np.linalg.norm(away)) > OFF + max(0.0, play) / 2:
        return None
    kind: ContactKind = "thread" if thread else "slot" if is_slot else "round"
    names = hole.drawn.feature.name, shaft.drawn.feature.name
    return Contact(kind, hole.part, shaft.part, *names, hole.z, shaft.origin, play, engaged)


def _thread(screw: Placed, shaft: Stretch, hole: Stretch) -> bool:
    """Whether a shank that is known as a thread goes into a hole drilled for it, or drawn at its nominal size
    though nothing else holds it."""
    standard = screw.standard
    if standard is None or standard.thread is None or standard.shank != shaft.drawn.feature.name:
        return False
    thread = coarse_thread(standard.thread)
    return thread.minor_diameter - 0.1e-3 < hole.diameter < thread.diameter - 0.25 * thread.pitch


def _rings(parts: tuple[Placed, ...], a: int, b: int) -> list[Contact]:
    """Grooves of a, round rings of b."""
    found = []
    for d in parts[a].features:
        for e in parts[b].features:
            if d.feature.kind != "groove" or e.feature.kind != "ring":
                continue
            T = parts[a].T_assembly_part @ d.feature.frame.matrix
            S = parts[b].T_assembly_part @ e.feature.frame.matrix
            mean = (e.feature.diameter or 0) + (e.feature.length or 0)
            section = e.feature.length or 0.0
            away = S[:3, 3] - T[:3, 3]
            aside = float(np.linalg.norm(away - (away @ T[:3, 2]) * T[:3, 2]))
            reach = float(d.feature.length or 0) + section
            if (
                abs(float(T[:3, 2] @ S[:3, 2])) < PARALLEL
                or aside > 0.2e-3
                or abs(float(away @ T[:3, 2])) > 2 * reach
            ):
                continue
            in_face = d.form.startswith("in a face")
            wanted = (d.feature.diameter or 0) if in_face else (d.feature.diameter or 0) + section
            if abs(mean - wanted) < section:
                found.append(
                    Contact("ring", a, b, d.feature.name, e.feature.name, T[:3, 2], T[:3, 3], 0.0, section)
                )
    return found


def _gears(parts: tuple[Placed, ...], a: int, b: int) -> list[Contact]:
    found = []
    for d in parts[a].features:
        for e in parts[b].features:
            f, g = d.feature, e.feature
            if f.kind != "gear" or g.kind != "gear" or f.module != g.module:
                continue
            T = parts[a].T_assembly_part @ f.frame.matrix
            S = parts[b].T_assembly_part @ g.frame.matrix
            away = S[:3, 3] - T[:3, 3]
            along = float(away @ T[:3, 2])
            apart = float(np.linalg.norm(away - along * T[:3, 2]))
            wanted = (f.module or 0) * ((f.teeth or 0) + (g.teeth or 0)) / 2
            engaged = min(f.length or 0, g.length or 0) - abs(along)
            parallel = abs(float(T[:3, 2] @ S[:3, 2])) > PARALLEL
            if parallel and abs(apart - wanted) < 0.3 * (f.module or 0) and engaged > _LEAST:
                found.append(
                    Contact("gear", a, b, f.name, g.name, T[:3, 2], T[:3, 3], apart - wanted, engaged)
                )
    return found


def _faces(parts: tuple[Placed, ...], a: int, b: int) -> list[Contact]:
    found = []
    for d in parts[a].features:
        for e in parts[b].features:
            if d.feature.kind != "face" or e.feature.kind != "face":
                continue
            T = parts[a].T_assembly_part @ d.feature.frame.matrix
            S = parts[b].T_assembly_part @ e.feature.frame.matrix
            if float(T[:3, 2] @ S[:3, 2]) > -PARALLEL or abs(float((S[:3, 3] - T[:3, 3]) @ T[:3, 2])) > OFF:
                continue
            area = _common(T, d.feature.size or (0, 0), S, e.feature.size or (0, 0))
            if area > _AREA:
                names = d.feature.name, e.feature.name
                found.append(Contact("face", a, b, *names, T[:3, 2], T[:3, 3], 0.0, area))
    return found


def _common(T: Array, size_a: tuple[float, float], S: Array, size_b: tuple[float, float]) -> float:
    """Area that two rectangles in one plane share, at least about [m2]."""
    area = 1.0
    for axis in (0, 1):
        along = T[:3, axis]
        half_b = sum(abs(float(S[:3, k] @ along)) * size_b[k] / 2 for k in (0, 1))
        middle = float((S[:3, 3] - T[:3, 3]) @ along)
        low = max(-size_a[axis] / 2, middle - half_b)
        area *= max(0.0, min(size_a[axis] / 2, middle + half_b) - low)
    return area


def _aligned(parts: tuple[Placed, ...], a: int, b: int) -> list[Contact]:
    """Coaxial holes of two parts that follow each other: a clearance hole over a tapped one."""
    found = []
    for one in stretches(a, parts[a], ("hole",)):
        for two in stretches(b, parts[b], ("hole",)):
            away = two.origin - one.origin
            aside = float(np.linalg.norm(away - (away @ one.z) * one.z))
            if abs(float(one.z @ two.z)) < PARALLEL or aside > OFF:
                continue
            low, high = span(one, one.origin, one.z)
            first, last = span(two, one.origin, one.z)
            if min(abs(high - first), abs(last - low)) < 0.1e-3:
                names = one.drawn.feature.name, two.drawn.feature.name
                play = abs(one.diameter - two.diameter)
                found.append(Contact("aligned", a, b, *names, one.z, one.origin, play, 0.0))
    return found
