"""Holes and shafts from the runs of an axis."""

from __future__ import annotations

import numpy as np

from handfast.geometry.cad.axis_line import AxisLine, Ring
from handfast.geometry.cad.drawn_feature import DrawnFeature, pose_of
from handfast.geometry.cad.patches import Patches
from handfast.geometry.cad.round_runs import (
    HIGH,
    LOW,
    Run,
    end_of,
    lead_in,
    reachable,
    runs_of,
)
from handfast.geometry.cad.thread_guess import thread_of_hole
from handfast.model.feature import Chamfer, Feature
from handfast.spatial.pose import Pose

_COUNTERSUNK = 0.2
"""A lead-in wider than that share of the diameter is a countersink for a head; common practice, no source."""
_GROOVE = 0.5  # a neck no longer than that share of its diameter is a groove
_MOSTLY = 205  # degrees around: with less, the end of a pocket may look like a hole
HOLE, SHAFT = -1, 1


def find_round(line: AxisLine, patches: Patches, left_out: set[int]) -> list[DrawnFeature]:
    """All holes, shafts and the grooves across them about one axis. left_out: patches known to be other
    things."""
    found: list[DrawnFeature] = []
    for outward in (HOLE, SHAFT):
        for run in runs_of(line, patches, outward, left_out):
            found += [
                f for k in range(len(run.rings)) if (f := _feature(run, k, outward, patches)) is not None
            ]
    return found


def _feature(run: Run, k: int, outward: int, patches: Patches) -> DrawnFeature | None:
    ring = run.rings[k]
    if ring.patch.kind != "cylinder" or not ring.encloses:
        return None
    if _is_groove(run, k, outward):
        return _groove(run, ring, outward, patches)
    sides = [side for side in (LOW, HIGH) if reachable(run, k, side, outward)]
    if not sides:
        return None
    # The end with the lead-in first, then the one towards which the axis points.
    sides.sort(key=lambda s: (lead_in(run, k, s, outward) is None, -s))
    ends, chamfers = [], []
    for side in sides:
        end, chamfer = _frame(run, k, side, outward)
        ends.append(end)
        chamfers.append(chamfer)
    leads = [s for s in (LOW, HIGH) if lead_in(run, k, s, outward) is not None]
    walls = tuple(f for s in leads for f in run.rings[k + (1 if s == HIGH else -1)].faces)
    length = _length(run, k, sides[0], outward)
    kind = "hole" if outward == HOLE else "shaft"
    lead = chamfers[0]
    feature = Feature(
        "", "hole" if outward == HOLE else "shaft", ends[0], diameter=2 * ring.patch.radius, length=length,
        chamfer=Chamfer(*lead) if lead is not None else None,
    )  # fmt: skip
    form = _form(run, k, outward, chamfers)
    sure, why = _how_sure(ring, kind)
    thread = thread_of_hole(2 * ring.patch.radius) if outward == HOLE else None
    return DrawnFeature(feature, tuple(ends), tuple(chamfers), form, ring.faces, sure, why, thread, walls)


def _frame(run: Run, k: int, side: int, outward: int) -> tuple[Pose, tuple[float, float] | None]:
    """Frame at that end, z into a hole or out of a tip, and the lead-in there."""
    out = run.line.direction * (1.0 if side == HIGH else -1.0)
    at = run.line.point(end_of(run, k, side, outward))
    lead = lead_in(run, k, side, outward)
    last = k == (len(run.rings) - 1 if side == HIGH else 0)
    chamfer = (lead[0], lead[1]) if lead is not None else None
    if chamfer is None and last and run.rounds[side] > 0:
        chamfer = run.rounds[side], float(np.pi / 4)
    return pose_of(at, out if outward == SHAFT else -out), chamfer


def _length(run: Run, k: int, side: int, outward: int) -> float:
    """From the mouth or tip to the far end of the cylinder, its far lead-in included where it is open
    there."""
    near, far = end_of(run, k, side, outward), run.rings[k].low if side == HIGH else run.rings[k].high
    if reachable(run, k, 1 - side, outward):
        far = end_of(run, k, 1 - side, outward)
    return abs(near - far)


def _form(run: Run, k: int, outward: int, chamfers: list[tuple[float, float] | None]) -> str:
    radius = run.rings[k].patch.radius
    others = [r.patch.radius for r in run.rings if r.patch.kind == "cylinder" and r is not run.rings[k]]
    if outward == SHAFT:
        return "stepped" if others else "plain"
    words = "through" if all(run.open) else "blind"
    if any(c is not None and c[0] > _COUNTERSUNK * 2 * radius for c in chamfers):
        words = f"countersunk {words}"
    if any(r > radius * 1.01 for r in others):
        words = f"counterbored {words}" if len(others) == 1 else f"stepped {words}"
    elif any(r < radius * 0.99 for r in others):
        words = "counterbore" if len(others) == 1 else f"stepped {words}"
    return words


def _is_groove(run: Run, k: int, outward: int) -> bool:
    """Whether both neighbours stand out beyond a narrow ring."""
    if not 0 < k < len(run.rings) - 1:
        return False
    ring, before, after = run.rings[k], run.rings[k - 1].high_radius, run.rings[k + 1].low_radius
    deeper = all((r - ring.patch.radius) * outward > 10e-6 for r in (before, after))
    return deeper and ring.high - ring.low <= _GROOVE * 2 * ring.patch.radius


def _groove(run: Run, ring: Ring, outward: int, patches: Patches) -> DrawnFeature:
    k = run.rings.index(ring)
    depth = min(
        abs(r - ring.patch.radius) for r in (run.rings[k - 1].high_radius, run.rings[k + 1].low_radius)
    )
    pose = pose_of(run.line.point(ring.middle), run.line.direction)
    feature = Feature("", "groove", pose, diameter=2 * ring.patch.radius, length=depth)
    where = "around a shaft" if outward == SHAFT else "in a bore"
    width = ring.high - ring.low
    form = f"{where}, {1e3 * width:.3g} mm wide"
    sure, why = _how_sure(ring, "groove")
    beside = [patches.all[i] for i in patches.around(ring.pieces)]
    walls = tuple(f for p in beside if p.kind == "plane" for f in p.faces)
    return DrawnFeature(feature, (pose,), (None,), form, ring.faces, sure, why, None, walls)


def _how_sure(ring: Ring, kind: str) -> tuple[float, str]:
    around = 360 - np.rad2deg(ring.gap) if ring.gap > np.deg2rad(20) else 360
    side = "material outside" if ring.patch.outward < 0 else "material inside"
    why = f"a cylinder, {side}, {around:.0f} deg around"
    sure = 0.99 if around == 360 else 0.9 if around > _MOSTLY else 0.6
    if ring.patch.recognised:
        why, sure = f"{why}, drawn as a general surface", sure - 0.04
    return sure, f"{kind}: {why}"
