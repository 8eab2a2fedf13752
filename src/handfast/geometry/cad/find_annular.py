"""Grooves in a face, around an axis: an outer and an inner wall with one floor."""

from __future__ import annotations

from handfast.geometry.cad.axis_line import AxisLine, Ring, whole_rings
from handfast.geometry.cad.drawn_feature import DrawnFeature, pose_of
from handfast.geometry.cad.patches import ALONG, Patches
from handfast.model.feature import Feature

_SHARE = 0.6  # of the outer wall's height that the inner wall must have too


def find_annular(line: AxisLine, patches: Patches, left_out: set[int]) -> list[DrawnFeature]:
    """Face grooves and recesses about one axis; their walls are no holes or shafts. left_out: as for
    holes."""
    found = []
    rings = whole_rings(line, left_out)
    for outer in rings:
        for inner in rings:
            groove = _groove(line, outer, inner, patches)
            if groove is not None:
                found.append(groove)
    return found


def _groove(line: AxisLine, outer: Ring, inner: Ring, patches: Patches) -> DrawnFeature | None:
    a, b = outer.patch, inner.patch
    if a.kind != "cylinder" or b.kind != "cylinder" or a.outward > 0 or b.outward < 0 or b.radius >= a.radius:
        return None
    shared = min(outer.high, inner.high) - max(outer.low, inner.low)
    if shared < _SHARE * (outer.high - outer.low) or not (outer.gap < 3.0 and inner.gap < 3.0):
        return None
    for index in sorted(set(patches.around(outer.pieces)) & set(patches.around(inner.pieces))):
        floor = patches.all[index]
        if floor.kind != "plane" or abs(float(floor.axis @ line.direction)) < ALONG:
            continue
        bends = [patches.bend(i, index) for i in (*outer.pieces, *inner.pieces)]
        if not all(bend in ("concave", None) for bend in bends):
            continue
        up = float(floor.axis @ line.direction)
        mouth = outer.high if up > 0 else outer.low
        pose = pose_of(line.point(mouth), -floor.axis)
        width, depth = a.radius - b.radius, abs(mouth - float((floor.centre - line.origin) @ line.direction))
        feature = Feature("", "groove", pose, diameter=a.radius + b.radius, length=depth)
        form = f"in a face, {1e3 * width:.3g} mm wide"
        why = "groove: two coaxial walls with one floor"
        return DrawnFeature(
            feature, (pose,), (None,), form, (*outer.faces, *inner.faces, *floor.faces), 0.95, why
        )
    return None
