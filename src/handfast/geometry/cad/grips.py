"""Where jaws can close on a drawn part: two flat faces that look apart, or round flanks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.geometry.cad.drawn_feature import DrawnFeature
from handfast.model.feature import Feature

WIDEST = 85e-3
"""Between jaws [m], where the gripper is not known; common practice, no source."""
_LEAST = 3e-3  # of a face under a finger, both ways [m]


@dataclass(frozen=True, slots=True)
class Grip:
    """features: one round one, or two flat ones; width: between the jaws [m]; common: edges of the rectangle
    in which the two faces lie across from each other [m]."""

    features: tuple[str, ...]
    width: float
    common: tuple[float, float]


def grips_of(found: tuple[DrawnFeature, ...], widest: float = WIDEST) -> tuple[Grip, ...]:
    """Every grip; the ones with the most common area first."""
    grips = [g for d in found if (g := _round(d.feature, widest)) is not None]
    flat = [d.feature for d in found if d.feature.kind == "face"]
    for i, a in enumerate(flat):
        for b in flat[i + 1 :]:
            grip = _flat(a, b, widest)
            if grip is not None:
                grips.append(grip)
    return tuple(sorted(grips, key=lambda g: (-g.common[0] * g.common[1], g.features)))


def _round(f: Feature, widest: float) -> Grip | None:
    if f.kind != "shaft" or not f.grip or f.diameter is None or f.length is None:
        return None
    if f.diameter > widest or f.length < _LEAST:
        return None
    return Grip((f.name,), f.diameter, (f.length, f.diameter))


def _flat(a: Feature, b: Feature, widest: float) -> Grip | None:
    T_a, T_b = a.frame.matrix, b.frame.matrix
    if T_a[:3, 2] @ T_b[:3, 2] > -np.cos(np.deg2rad(1)):
        return None
    between = T_b[:3, 3] - T_a[:3, 3]
    width = -float(between @ T_a[:3, 2])
    if not _LEAST / 3 < width <= widest:
        return None
    common = []
    for axis in (0, 1):
        along = T_a[:3, axis]
        half_b = sum(abs(float(T_b[:3, k] @ along)) * (b.size or (0, 0))[k] / 2 for k in (0, 1))
        half_a, middle = (a.size or (0, 0))[axis] / 2, float(between @ along)
        common.append(min(half_a, middle + half_b) - max(-half_a, middle - half_b))
    if min(common) < _LEAST:
        return None
    return Grip((a.name, b.name), width, (float(common[0]), float(common[1])))
