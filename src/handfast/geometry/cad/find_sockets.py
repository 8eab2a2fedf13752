"""Hexagon sockets: six flat walls that look inward, with a floor."""

from __future__ import annotations

import numpy as np

from handfast.geometry.cad.drawn_feature import DrawnFeature, pose_of
from handfast.geometry.cad.patches import Patch, Patches
from handfast.model.feature import Feature
from handfast.spatial.se3 import Array

_CLOSE = 0.02e-3  # to which the walls stand equally far from the middle [m]


def find_sockets(patches: Patches) -> list[DrawnFeature]:
    """Each hexagon socket of a screw head, as a hole as wide as its flats are apart."""
    walls = [p for p in patches.all if p.kind == "plane"]
    found, taken = [], set()
    for first in walls:
        if first.index in taken:
            continue
        ring = _ring(first, patches)
        if ring is not None and len(ring) == 6:
            taken |= {p.index for p in ring}
            socket = _socket(ring, patches)
            if socket is not None:
                found.append(socket)
    return found


def _ring(first: Patch, patches: Patches) -> list[Patch] | None:
    """Walls reached from the first over concave corners of 120 degrees."""
    ring, front = [first], [first]
    while front:
        at = front.pop()
        for i in sorted(patches.beside[at.index]):
            p = patches.all[i]
            corner = p.kind == "plane" and abs(float(p.axis @ at.axis) - 0.5) < 0.02
            if corner and patches.bend(at.index, i) == "concave" and all(p is not q for q in ring):
                ring.append(p)
                front.append(p)
                if len(ring) > 6:
                    return None
    return ring


def _socket(ring: list[Patch], patches: Patches) -> DrawnFeature | None:
    axis = np.cross(ring[0].axis, ring[1].axis)
    axis = axis / np.linalg.norm(axis)
    middle: Array = np.mean([p.centre for p in ring], axis=0)
    apart = np.array([abs(float((p.origin - middle) @ p.axis)) for p in ring])
    if np.ptp(apart) > _CLOSE:
        return None
    along = np.concatenate([p.points for p in ring]) @ axis
    low, high = float(along.min()), float(along.max())
    shared = set.intersection(*(set(patches.beside[p.index]) for p in ring))
    floors = [i for i in shared if patches.bend(ring[0].index, i) == "concave"]
    end = float(np.mean([patches.all[i].centre @ axis for i in floors])) if floors else low
    up = axis if abs(end - low) < abs(end - high) else -axis
    mouth = (high if up @ axis > 0 else low) * axis + middle - (middle @ axis) * axis
    across = 2 * float(apart.mean())
    pose = pose_of(mouth, -up, ring[0].axis)
    hole = Feature("", "hole", pose, diameter=across, length=high - low, grip=False)
    faces = tuple(f for p in ring for f in p.faces)
    floor = tuple(f for i in floors for f in patches.all[i].faces)
    why = f"socket: six walls {1e3 * across:.3g} mm across flats"
    return DrawnFeature(hole, (pose,), (None,), "hexagon socket", faces, 0.97, why, None, floor)
