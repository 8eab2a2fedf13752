"""Round rings: a torus that is all of its outside."""

from __future__ import annotations

import numpy as np

from handfast.geometry.cad.around import widest_gap
from handfast.geometry.cad.drawn_feature import DrawnFeature, pose_of
from handfast.geometry.cad.patches import Patches
from handfast.model.feature import Feature

_MOST = 0.9  # of the part's surface


def find_rings(patches: Patches) -> list[DrawnFeature]:
    """Of a part that is a ring: both its sides, and its outside as a shaft that jaws may close on."""
    whole = sum(p.area for p in patches.all)
    found = []
    for p in patches.all:
        if p.kind != "torus" or p.outward < 0 or p.area < _MOST * whole:
            continue
        if widest_gap(p.points - p.origin, p.axis) > np.deg2rad(30):
            continue
        inner, section, axis = 2 * (p.radius - p.tube), 2 * p.tube, p.axis
        sides = [pose_of(p.origin + s * p.tube * axis, s * axis) for s in (-1, 1)]
        why = f"ring: a torus, {1e3 * inner:.4g} x {1e3 * section:.3g} mm"
        ring = Feature("", "ring", sides[0], diameter=inner, length=section)
        found.append(DrawnFeature(ring, tuple(sides), (None, None), "round section", p.faces, 0.97, why))
        outside = Feature("", "shaft", sides[1], diameter=2 * (p.radius + p.tube), length=section)
        form = "outside of a ring"
        found.append(DrawnFeature(outside, tuple(sides[::-1]), (None, None), form, p.faces, 0.97, why))
    return found
