"""Gear teeth as a class: equal tips around an axis, whose circle suits a module."""

from __future__ import annotations

import numpy as np

from handfast.geometry.cad.around import across
from handfast.geometry.cad.axis_line import AxisLine, Ring
from handfast.geometry.cad.drawn_feature import DrawnFeature, pose_of
from handfast.geometry.cad.patches import SAME, Patches
from handfast.geometry.cad.round_runs import NEXT
from handfast.model.feature import Chamfer, Feature

MODULES_MM = (
    0.3,
    0.4,
    0.5,
    0.6,
    0.7,
    0.8,
    1,
    1.125,
    1.25,
    1.375,
    1.5,
    1.75,
    2,
    2.25,
    2.5,
    2.75,
    3,
    3.5,
    4,
    5,
    6,
    8,
    10,
)
"""Series I and II of ISO 54 from 1 mm, below it common practice (from memory)."""
FEWEST = 6
_OFF = 0.03  # by which a tip circle may differ from m (z + 2): tips are often turned down


def find_gears(line: AxisLine, patches: Patches) -> list[DrawnFeature]:
    """Spur gears about one axis: the teeth, and the tip circle as a shaft that no hand may hold."""
    found: list[DrawnFeature] = []
    tips = [r for r in line.rings if r.patch.outward > 0 and r.patch.kind == "cylinder" and not r.encloses]
    while tips:
        first = tips[0]
        same = [r for r in tips if _alike(r, first)]
        tips = [r for r in tips if r not in same]
        if len(same) >= FEWEST:
            found += _gear(line, same, patches)
    return found


def _alike(a: Ring, b: Ring) -> bool:
    return (
        abs(a.patch.radius - b.patch.radius) < 2 * SAME
        and abs(a.low - b.low) < NEXT
        and abs(a.high - b.high) < NEXT
    )


def _gear(line: AxisLine, tips: list[Ring], patches: Patches) -> list[DrawnFeature]:
    count, radius = len(tips), tips[0].patch.radius
    x, y = across(line.direction)
    centres = np.array([r.patch.centre - line.origin for r in tips])
    angles = np.sort(np.arctan2(centres @ y, centres @ x))
    steps = np.diff(angles, append=angles[0] + 2 * np.pi)
    if np.ptp(steps) > 0.05 * 2 * np.pi / count:
        return []
    module = min((m * 1e-3 for m in MODULES_MM), key=lambda m: abs(m * (count + 2) - 2 * radius))
    flanks = _between(line, tips, radius, module, patches)
    if abs(module * (count + 2) - 2 * radius) > _OFF * 2 * radius or not flanks:
        return []
    low, high, chamfer, walls = _ends(line, tips, patches)
    walls += tuple(f for i in flanks for f in patches.all[i].faces)
    phase = float(angles[int(np.argmin(np.abs(angles)))])
    towards = np.cos(phase) * x + np.sin(phase) * y
    faces = tuple(f for r in tips for f in r.patch.faces)
    modules = 2 * radius / module
    why = f"{count} equal tips, their circle {2e3 * radius:.4g} mm is {modules:.4g} modules"
    pose = pose_of(line.point(high), line.direction, towards)
    lead = Chamfer(*chamfer) if chamfer else None
    teeth = Feature("", "gear", pose, teeth=count, module=module, length=high - low, chamfer=lead)
    other = pose_of(line.point(low), -line.direction, towards)
    rim = Feature("", "shaft", other, diameter=2 * radius, length=high - low, chamfer=lead, grip=False)
    ends = pose_of(line.point(low), -line.direction), pose_of(line.point(high), line.direction)
    return [
        DrawnFeature(teeth, (pose,), (chamfer,), "spur teeth", faces, 0.9, f"gear: {why}", None, walls),
        DrawnFeature(
            rim, ends, (chamfer, chamfer), "tips of teeth", faces, 0.9, f"tip circle: {why}", None, walls
        ),
    ]


def _between(line: AxisLine, tips: list[Ring], radius: float, module: float, patches: Patches) -> list[int]:
    """Flanks and roots: patches along the axis between tip and root circle; none unless they reach as deep
    as teeth do (2.25 modules in ISO 53)."""
    low, high = tips[0].low, tips[0].high
    own = {i for r in tips for i in r.pieces}
    found, deepest = [], radius
    for p in patches.all:
        away = p.points - line.origin
        along = away @ line.direction
        out = np.linalg.norm(away - along[:, None] * line.direction, axis=1)
        flat = p.kind == "plane" and abs(float(p.axis @ line.direction)) > 0.5
        if p.index in own or flat or p.kind in ("cone", "torus"):
            continue
        if float(along.min()) < low - 1.1 * module or float(along.max()) > high + 1.1 * module:
            continue
        if float(out.max()) < radius + NEXT and float(out.min()) > radius - 2.7 * module:
            found.append(p.index)
            deepest = min(deepest, float(out.min()))
    return found if (radius - deepest) / module > 1.8 else []


def _ends(
    line: AxisLine, tips: list[Ring], patches: Patches
) -> tuple[float, float, tuple[float, float] | None, tuple[int, ...]]:
    """From where to where the teeth reach, chamfers included; the chamfer; its faces."""
    low, high = tips[0].low, tips[0].high
    chamfer: tuple[float, float] | None = None
    walls: list[int] = []
    near = {i for r in tips for i in patches.beside[r.patch.index]}
    for ring in line.rings:
        if ring.patch.kind == "cone" and ring.patch.index in near and ring.patch.outward > 0:
            width = abs(ring.high_radius - ring.low_radius)
            chamfer = float(width), float(np.arctan2(ring.high - ring.low, width))
            low, high = min(low, ring.low), max(high, ring.high)
            walls.extend(ring.patch.faces)
    return low, high, chamfer, tuple(walls)
