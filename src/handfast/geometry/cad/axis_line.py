"""Round patches about one axis: where along it each lies, and how far around it goes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.geometry.cad.around import widest_gap
from handfast.geometry.cad.patches import ALONG, SAME, Patch
from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class Ring:
    """A round patch seen along its axis, or several pieces of one. patch: the largest piece; pieces: indices
    of all patches; low, high: where it begins and ends along the axis [m]; low_radius, high_radius: there
    [m]; gap: the widest angle that it leaves open [rad]."""

    patch: Patch
    pieces: tuple[int, ...]
    faces: tuple[int, ...]
    low: float
    high: float
    low_radius: float
    high_radius: float
    gap: float

    @property
    def encloses(self) -> bool:
        """Whether it goes more than half way around: it holds what is inside in both directions."""
        return bool(self.gap < np.deg2rad(176))

    @property
    def middle(self) -> float:
        """Half way along [m]."""
        return (self.low + self.high) / 2


@dataclass(frozen=True, eq=False, slots=True)
class AxisLine:
    """An axis with all cylinders and cones about it. origin [m], direction: unit."""

    origin: Array
    direction: Array
    rings: tuple[Ring, ...]

    def point(self, along: float) -> Array:
        """The point of the axis there [m]."""
        return np.asarray(self.origin + along * self.direction)


def axis_lines(patches: tuple[Patch, ...]) -> tuple[AxisLine, ...]:
    """Group cylinders and cones by their axes; each axis points towards its largest positive component."""
    groups: list[tuple[Array, Array, list[Patch]]] = []
    for patch in sorted(patches, key=lambda p: -p.area):
        if patch.kind not in ("cylinder", "cone"):
            continue
        for origin, direction, members in groups:
            if (
                abs(float(direction @ patch.axis)) > ALONG
                and _apart(origin, direction, patch.origin) < 2 * SAME
            ):
                members.append(patch)
                break
        else:
            groups.append((patch.origin, _signed(patch.axis), [patch]))
    return tuple(
        AxisLine(origin, direction, tuple(_ring(p, origin, direction) for p in members))
        for origin, direction, members in groups
    )


def whole_rings(line: AxisLine, left_out: set[int]) -> tuple[Ring, ...]:
    """The rings, pieces of one cylinder or cone at one height joined: a groove may cut a wall in two.
    left_out: patches that belong to something else."""
    groups: list[list[Ring]] = []
    for ring in line.rings:
        if ring.patch.index in left_out:
            continue
        for group in groups:
            if _pieces_of_one(group[0], ring):
                group.append(ring)
                break
        else:
            groups.append([ring])
    return tuple(g[0] if len(g) == 1 else _joined(line, g) for g in groups)


def _pieces_of_one(a: Ring, b: Ring) -> bool:
    if a.encloses or b.encloses or a.patch.kind != b.patch.kind or a.patch.outward != b.patch.outward:
        return False
    overlap = min(a.high, b.high) - max(a.low, b.low)
    if overlap < 0.5 * min(a.high - a.low, b.high - b.low):
        return False
    return abs(a.low_radius - b.low_radius) < 2 * SAME and abs(a.high_radius - b.high_radius) < 2 * SAME


def _joined(line: AxisLine, rings: list[Ring]) -> Ring:
    points = np.concatenate([r.patch.points for r in rings]) - line.origin
    big = max(rings, key=lambda r: r.patch.area)
    return Ring(
        big.patch, tuple(i for r in rings for i in r.pieces), tuple(f for r in rings for f in r.faces),
        min(r.low for r in rings), max(r.high for r in rings), big.low_radius, big.high_radius,
        widest_gap(points, line.direction),
    )  # fmt: skip


def _signed(axis: Array) -> Array:
    return axis if axis[int(np.argmax(np.abs(axis).round(6)))] > 0 else -axis


def _apart(origin: Array, direction: Array, point: Array) -> float:
    away = point - origin
    return float(np.linalg.norm(away - (away @ direction) * direction))


def _ring(patch: Patch, origin: Array, direction: Array) -> Ring:
    away = patch.points - origin
    along = away @ direction
    low, high = float(along.min()), float(along.max())
    if patch.kind == "cylinder":
        return Ring(
            patch,
            (patch.index,),
            patch.faces,
            low,
            high,
            patch.radius,
            patch.radius,
            widest_gap(away, direction),
        )
    start = float((patch.origin - origin) @ direction)
    grows = np.tan(patch.half_angle) * float(np.sign(patch.axis @ direction))
    ends = [max(0.0, patch.radius + (z - start) * grows) for z in (low, high)]
    return Ring(
        patch,
        (patch.index,),
        patch.faces,
        low,
        high,
        float(ends[0]),
        float(ends[1]),
        widest_gap(away, direction),
    )
