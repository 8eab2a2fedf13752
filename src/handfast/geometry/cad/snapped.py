"""Short arcs that were drawn as general surfaces: their axis is badly known alone, so a good one near by is
tried."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from handfast.geometry.cad.around import widest_gap
from handfast.geometry.cad.face_graph import Face
from handfast.geometry.cad.surface_fit import CLOSE

_WELL = np.deg2rad(200)  # a flank that leaves less open knows its axis
_FLAT = 2e-8  # what is flatter [m] is no sliver of an arc
_TILT = 2e-3  # of its normals against square to the axis


def snapped(faces: tuple[Face, ...]) -> tuple[Face, ...]:
    """The faces, short recognised arcs (some look flat) moved onto the axis of a better known one where
    their points agree."""
    if not any(f.recognised and f.kind in ("cylinder", "plane") for f in faces):
        return faces
    short = {f.index: True for f in faces if f.kind == "plane" and f.recognised and f.misfit > _FLAT}
    axes: list[Face] = []
    for f in faces:
        if f.kind in ("cylinder", "cone"):
            short[f.index] = f.recognised and widest_gap(f.points - f.origin, f.axis) > _WELL
            if not short[f.index] and not any(_same_axis(f, g) for g in axes):
                axes.append(f)
    return tuple(_moved(f, axes) if short.get(f.index) and f.kind != "cone" else f for f in faces)


def _same_axis(a: Face, b: Face) -> bool:
    away = b.origin - a.origin
    apart = float(np.linalg.norm(away - (away @ a.axis) * a.axis))
    return abs(float(a.axis @ b.axis)) > 1 - 1e-9 and apart < CLOSE


def _moved(face: Face, axes: list[Face]) -> Face:
    if face.samples is None or face.normals is None:
        return face
    for other in axes:
        away = face.samples - other.origin
        out = away - (away @ other.axis)[:, None] * other.axis
        radii = np.linalg.norm(out, axis=1)
        radial = np.abs((out / np.maximum(radii, 1e-12)[:, None] * face.normals).sum(axis=1))
        square = float(np.abs(face.normals @ other.axis).max()) < _TILT
        if square and float(np.ptp(radii)) < 2 * CLOSE and float(radial.min()) > 1 - 1e-5:
            side = 1 if float((out * face.normals).sum()) > 0 else -1
            return replace(
                face, kind="cylinder", outward=side, origin=other.origin, axis=other.axis,
                radius=float(radii.mean()),
                misfit=float(np.ptp(radii)) / 2,
            )  # fmt: skip
    return face
