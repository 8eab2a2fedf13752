"""Slots and keyways: two flat walls that face each other, with round or flat ends, through or with a
floor."""

from __future__ import annotations

import numpy as np

from handfast.geometry.cad.around import widest_gap
from handfast.geometry.cad.drawn_feature import DrawnFeature, pose_of
from handfast.geometry.cad.patches import ALONG, SAME, Patch, Patches
from handfast.model.feature import Chamfer, Feature
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

_LONGEST = 40.0  # lengths over width: beyond, it is a step between two walls and no slot
_WIDEST = 30e-3
_KEYWAY = 0.55
"""Depths over width: keyways in a bore are shallower (DIN 6885-1 has up to 0.5 in the hub, from memory)."""


def find_slots(patches: Patches) -> tuple[list[DrawnFeature], set[int]]:
    """Every slot once; and the faces of deep recesses across wider openings, which are none."""
    planes = [p for p in patches.all if p.kind == "plane"]
    found: list[DrawnFeature] = []
    taken: set[int] = set()
    for a, b in _facing(planes, patches):
        if {a.index, b.index} <= taken:
            continue
        slot = _rounded(a, b, patches) or _floored(a, b, patches)
        if slot is not None:
            taken |= {a.index, b.index}
            found.append(slot)
    pockets = [s for s in found if any(_one_pocket(s, other) for other in found if other is not s)]
    return [s for s in found if s not in pockets], {f for s in pockets for f in s.faces}


def _one_pocket(a: DrawnFeature, b: DrawnFeature) -> bool:
    """Whether two slots are the ends of one deep recess across a wider opening: floors that face each other,
    walls in the same planes."""
    if not all(s.form.startswith("open") and _deep(s) for s in (a, b)):
        return False
    T, U = a.feature.frame.matrix, b.feature.frame.matrix
    away = U[:3, 3] - T[:3, 3]
    facing = float(T[:3, 2] @ U[:3, 2]) < -ALONG and float(away @ T[:3, 2]) < 0
    aside = abs(float(away @ T[:3, 1]))
    return facing and aside < SAME and abs((a.feature.diameter or 0) - (b.feature.diameter or 0)) < SAME


def _deep(slot: DrawnFeature) -> bool:
    return (slot.feature.length or 0.0) > _KEYWAY * (slot.feature.diameter or 0.0)


def _facing(planes: list[Patch], patches: Patches) -> list[tuple[Patch, Patch]]:
    """Parallel planes that look at each other across a gap and share a neighbour, the narrowest first."""
    pairs = []
    by_neighbour: dict[int, list[Patch]] = {}
    for plane in planes:
        for n in patches.beside[plane.index]:
            by_neighbour.setdefault(n, []).append(plane)
    seen = set()
    for members in by_neighbour.values():
        for i, a in enumerate(members):
            for b in members[i + 1 :]:
                key = min(a.index, b.index), max(a.index, b.index)
                if key in seen or a.axis @ b.axis > -ALONG:
                    continue
                seen.add(key)
                width = float((b.origin - a.origin) @ a.axis)
                if SAME < width < _WIDEST:
                    pairs.append((width, a, b))
    return [(a, b) for _, a, b in sorted(pairs, key=lambda p: (p[0], p[1].index, p[2].index))]


def _ends(a: Patch, b: Patch, width: float, patches: Patches) -> list[Patch]:
    """Half cylinders that run smoothly into both walls."""
    shared = set(patches.beside[a.index]) & set(patches.beside[b.index])
    found = []
    for i in sorted(shared):
        p = patches.all[i]
        if p.kind == "cylinder" and p.outward < 0 and abs(2 * p.radius - width) < 4 * SAME:
            gap = widest_gap(p.points - p.origin, p.axis)
            if abs(gap - np.pi) < np.deg2rad(12):
                found.append(p)
    return found


def _floor(a: Patch, b: Patch, patches: Patches) -> Patch | None:
    """The plane between the walls, at their feet."""
    for i in sorted(set(patches.beside[a.index]) & set(patches.beside[b.index])):
        p = patches.all[i]
        square = p.kind == "plane" and abs(float(p.axis @ a.axis)) < 1e-3
        if square and all(patches.bend(w.index, i) == "concave" for w in (a, b)):
            return p
    return None


def _rounded(a: Patch, b: Patch, patches: Patches) -> DrawnFeature | None:
    width = float((b.origin - a.origin) @ a.axis)
    ends = _ends(a, b, width, patches)
    if len(ends) != 2:
        return None
    into = ends[0].axis
    along = ends[1].origin - ends[0].origin
    along = along - (along @ into) * into
    apart = float(np.linalg.norm(along))
    if apart < SAME or apart > _LONGEST * width:
        return None
    floors = [i for e in ends for i in patches.beside[e.index] if patches.bend(e.index, i) == "concave"]
    floors = [i for i in floors if patches.all[i].kind == "plane" and abs(patches.all[i].axis @ into) > ALONG]
    middle = (ends[0].origin + ends[1].origin) / 2
    depth_of = np.concatenate([e.points for e in ends]) @ into
    low, high = float(depth_of.min()), float(depth_of.max())
    leads = {side: _lead_in(ends[0], side * into, patches) for side in (-1, 1)}
    walls = tuple(f for lead in leads.values() if lead is not None for f in lead[2])
    low -= _tall(leads[-1])
    high += _tall(leads[1])
    flat = middle - (middle @ into) * into
    faces = (*a.faces, *b.faces, *(f for e in ends for f in e.faces))
    size = apart + width, width
    if floors:
        floor = patches.all[floors[0]]
        up = floor.axis
        mouth = high if up @ into > 0 else low
        depth = abs(mouth - float(floor.origin @ into))
        poses = [pose_of(flat + mouth * into, -up, along / apart)]
        chamfers = [_chamfer(leads[1 if up @ into > 0 else -1])]
        faces, form = (*faces, *floor.faces), "blind, round ends"
    else:
        depth = high - low
        sides = sorted((1, -1), key=lambda side: -side * float(into[int(np.argmax(np.abs(into)))]))
        poses = [pose_of(flat + (high if d > 0 else low) * into, -d * into, along / apart) for d in sides]
        chamfers = [_chamfer(leads[d]) for d in sides]
        if chamfers[0] is None and chamfers[1] is not None:  # the mouth with the lead-in first
            poses, chamfers = poses[::-1], chamfers[::-1]
        form = "through, round ends"
    return _slot(poses, chamfers, size, depth, form, faces, "two facing walls with round ends", walls)


Lead = tuple[float, float, tuple[int, ...]]


def _lead_in(end: Patch, out: Array, patches: Patches) -> Lead | None:
    """Radial width [m], height along the slot [m] and faces of the cone that widens a round end outwards."""
    for i in sorted(patches.beside[end.index]):
        cone = patches.all[i]
        if cone.kind != "cone" or abs(float(cone.axis @ end.axis)) < ALONG or cone.outward > 0:
            continue
        along = cone.points @ out
        if float(along.mean()) > float((end.points @ out).mean()):
            tall = float(np.ptp(along))
            return tall * float(np.tan(abs(cone.half_angle))), tall, cone.faces
    return None


def _tall(lead: Lead | None) -> float:
    return lead[1] if lead is not None else 0.0


def _chamfer(lead: Lead | None) -> tuple[float, float] | None:
    return (lead[0], float(np.arctan2(lead[1], lead[0]))) if lead is not None else None


def _floored(a: Patch, b: Patch, patches: Patches) -> DrawnFeature | None:
    floor = _floor(a, b, patches)
    if floor is None:
        return None
    width = float((b.origin - a.origin) @ a.axis)
    along = np.cross(a.axis, floor.axis)
    reach = [p.points @ along for p in (a, b)]
    start, stop = max(float(r.min()) for r in reach), min(float(r.max()) for r in reach)
    heights = [float(((p.points - floor.origin) @ floor.axis).max()) for p in (a, b)]
    depth = min(heights)
    length = stop - start
    if length < 0.8 * width or depth < 0.05 * width or length > _LONGEST * width or depth > 10 * width:
        return None
    ends = _ends(a, b, width, patches)
    ends += [
        e for e in (_flat_end(a, b, i, along, patches) for i in sorted(patches.beside[floor.index])) if e
    ]
    closed = len(ends)
    faces = (*a.faces, *b.faces, *floor.faces, *(f for e in ends for f in e.faces))
    extra = sum(width / 2 for e in ends if e.kind == "cylinder")
    middle = _middle(a, b, floor, along, (start + stop) / 2) + depth * floor.axis
    form = ("open at both ends", "open at one end", "blind, flat ends")[min(closed, 2)]
    pose = pose_of(middle, -floor.axis, along)
    return _slot([pose], [None], (length + extra, width), depth, form, faces, "two facing walls with a floor")


def _flat_end(a: Patch, b: Patch, index: int, along: Array, patches: Patches) -> Patch | None:
    """A plane across the slot that closes it."""
    p = patches.all[index]
    if p.kind != "plane" or abs(float(p.axis @ along)) < ALONG:
        return None
    meets = all(patches.bend(w.index, index) == "concave" for w in (a, b))
    return p if meets else None


def _middle(a: Patch, b: Patch, floor: Patch, along: Array, at: float) -> Array:
    across = (float(a.origin @ a.axis) + float(b.origin @ a.axis)) / 2
    return np.asarray(across * a.axis + float(floor.origin @ floor.axis) * floor.axis + at * along)


def _slot(
    poses: list[Pose],
    chamfers: list[tuple[float, float] | None],
    size: tuple[float, float],
    depth: float,
    form: str,
    faces: tuple[int, ...],
    why: str,
    walls: tuple[int, ...] = (),
) -> DrawnFeature:
    lead = Chamfer(*chamfers[0]) if chamfers[0] is not None else None
    feature = Feature("", "slot", poses[0], diameter=size[1], length=depth, size=size, chamfer=lead)
    why = f"slot: {why}"
    return DrawnFeature(feature, tuple(poses), tuple(chamfers), form, faces, 0.95, why, None, walls)
