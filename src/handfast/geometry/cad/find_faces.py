"""Flat faces: what parts sit on, what fingers close on, what is touched."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from handfast.geometry.cad.around import across
from handfast.geometry.cad.drawn_feature import DrawnFeature, pose_of
from handfast.geometry.cad.patches import Patch, Patches, same_surface
from handfast.model.feature import Feature
from handfast.spatial.se3 import Array

SMALLEST = 1.5e-3
"""A face narrower than that [m] is an edge break; common practice, no source."""
_FULL = 0.12  # of the rectangle around it that a face must fill: a shoulder is a thin ring
_TOGETHER = 0.5  # of the rectangle that pieces of one plane must fill to be one face


@dataclass(frozen=True, slots=True)
class Extent:
    """x: direction of the longer edge; middle of the rectangle; size [m] along x and y."""

    x: Array
    middle: Array
    size: tuple[float, float]


def find_faces(patches: Patches, left_out: set[int]) -> tuple[list[DrawnFeature], dict[int, str]]:
    """Flat faces, and by patch why a plane is none. left_out: planes that belong to another feature.

    Pieces of one plane are one face where together they fill enough of the rectangle around them: a groove
    may cut a face in two, and feet that stand in one plane carry together.
    """
    found, reasons = [], {}
    for pieces in _coplanar(patches, left_out):
        together = _union(pieces)
        groups = [together] if len(pieces) > 1 and _why_not(together, _TOGETHER) == "" else pieces
        for patch in groups:
            why = _why_not(patch)
            if why:
                reasons[patch.index] = why
            else:
                found.append(_face(patch, extent_of(patch)))
    return found, reasons


def _why_not(patch: Patch, full: float = _FULL) -> str:
    extent = extent_of(patch)
    width, share = min(extent.size), patch.area / max(extent.size[0] * extent.size[1], 1e-300)
    if width < SMALLEST:
        return f"flat, but only {1e3 * width:.2g} mm wide: an edge break or a narrow step"
    if share < full:
        return f"flat, but it fills only {100 * share:.0f} % of the rectangle around it"
    return ""


def _coplanar(patches: Patches, left_out: set[int]) -> list[list[Patch]]:
    """Planes, those that lie in one plane together; floors inside holes stay alone, each is a seat of its
    own."""
    groups: list[list[Patch]] = []
    alone: list[list[Patch]] = []
    planes = [p for p in patches.all if p.kind == "plane" and p.index not in left_out]
    for plane in sorted(planes, key=lambda p: (-p.area, p.index)):
        if _in_a_hole(plane, patches):
            alone.append([plane])
            continue
        for group in groups:
            if same_surface(group[0], plane):
                group.append(plane)
                break
        else:
            groups.append([plane])
    return groups + alone


def _in_a_hole(plane: Patch, patches: Patches) -> bool:
    walls = [i for i in patches.beside[plane.index] if patches.all[i].outward < 0]
    return any(patches.bend(plane.index, i) == "concave" for i in walls)


def _union(pieces: list[Patch]) -> Patch:
    return replace(
        pieces[0], faces=tuple(f for p in pieces for f in p.faces),
        points=np.concatenate([p.points for p in pieces]), area=sum(p.area for p in pieces),
        recognised=any(p.recognised for p in pieces),
    )  # fmt: skip


def _face(patch: Patch, extent: Extent) -> DrawnFeature:
    x, _ = across(patch.axis)
    usual = abs(float(extent.x @ x))
    turned = None if min(usual, abs(1 - usual)) < 1e-6 else extent.x
    pose = pose_of(extent.middle, patch.axis, turned)
    size = extent.size if turned is not None or usual > 0.5 else (extent.size[1], extent.size[0])
    feature = Feature("", "face", pose, size=size)
    sure = 0.95 if patch.recognised else 0.99
    why = f"face: flat, {1e6 * patch.area:.3g} mm2"
    return DrawnFeature(feature, (pose,), (None,), "flat", patch.faces, sure, why)


def extent_of(patch: Patch) -> Extent:
    """The least rectangle around a plane, among those that stand along x or y of its usual frame or along
    one of its longest edges."""
    x0, y0 = across(patch.axis)
    points = patch.points
    flat = np.column_stack([points @ x0, points @ y0])
    best: tuple[float, Extent] | None = None
    for k, angle in enumerate(_directions(flat)):
        c, s = np.cos(angle), np.sin(angle)
        turned = flat @ np.array([[c, -s], [s, c]])
        low, high = turned.min(axis=0), turned.max(axis=0)
        size = high - low
        area = float(size[0] * size[1]) * (1.0 if k == 0 else 1.02)  # turned only where it pays
        if best is None or area < best[0]:
            u, v = c * x0 + s * y0, -s * x0 + c * y0
            middle = (low + high) / 2
            level = float(points[0] @ patch.axis)
            at = middle[0] * u + middle[1] * v + level * patch.axis
            best = area, Extent(u, at, (float(size[0]), float(size[1])))
    if best is None:
        raise ValueError("a plane without points")
    return best[1]


def _directions(flat: Array) -> list[float]:
    """Zero, and the angles of the longest edges of the hull [rad]."""
    from handfast.geometry.cad.flat_hull import hull

    ring = hull(flat)
    edges = np.roll(ring, -1, axis=0) - ring
    order = np.argsort(-np.hypot(*edges.T))[:6]
    return [0.0, *(float(np.arctan2(edges[i, 1], edges[i, 0])) for i in order)]
