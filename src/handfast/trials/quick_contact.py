"""The fast contact solver: the task as tables for the compiled quasi-static balance, and its answer read
back.

Points on the rims of one shape press on the other as soft walls do (kernel/contact.cpp says how). It knows
neither the formulas of parts mating nor anything of the ledger; the physics engine repeats a sample of what
it says.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from typing import cast

import numpy as np

from handfast import _kernel
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.contact_shapes import RoundHole, RoundShaft
from handfast.trials.gear_teeth import GearTeeth
from handfast.trials.insertion import (
    PENETRATION_ALLOWED,
    Corners,
    Inserted,
    Insertion,
    Pair,
    Seat,
    Shape,
    cause_of,
)

POINTS = 48  # on each rim
FLANK_POINTS = 24  # of a tooth: with 12 two teeth that overlap by 4 um may pass between them
WALL = 1e8  # stiffness of a wall under one point [N/m]
SLIP = 1e-7  # a point sticks until it has moved this far in one step [m]
_FINE, _COARSE = 2.5e-5, 2.5e-4  # steps of the command over chamfers and elsewhere [m]
_AROUND = 5e-4  # a tooth's points this far beyond the other gear's tips can never meet it [m]
_ABOVE = 3e-4  # begins this far above the first mouth [m]
# What holds a loose part where it stands, along its axis as on a floor, across it as good as nothing [N/m, N
# m/rad].
_LOOSE = (200.0, 1e6, 0.5, 50.0)
_Planes = list[tuple[float, float, float]]


def insert_quickly(task: Insertion) -> Inserted:
    """Try it in contact. Deterministic."""
    T_begin, stops = _stops(task)
    rims, points = _rims(task)
    bodies, now, held = _bodies(task, T_begin)
    centre = task.support.T_feature_centre[:3, 3]
    travel, peak, over, deepest, poses, steps, _, unsettled, felt = _kernel.insertion(
        np.array([_row(task, i) for i in range(len(task.pieces))]),
        np.array([_planes(p.shape) for p in task.pieces]),
        np.array([_in_body(task, i, centre) for i in range(len(task.pieces))]),
        rims, points, bodies, now, held, task.way, stops,
        limit=task.force_limit, friction=task.friction, stiffness=WALL, slip=SLIP,
    )  # fmt: skip
    T_held = np.asarray(poses[0] @ se3.translation(*(-centre)))
    T_loose = tuple(np.asarray(p) for p in poses[1:])
    cause = cause_of(task, float(stops[-1]) - travel, over, T_held, T_loose)
    share = _share(task, rims, deepest)
    offset, tilt = task.at_mouth()
    before = float(np.linalg.norm(T_begin[:3, 3] - task.T_start[:3, 3]))
    return Inserted("failed" if cause else "ok", cause, before + travel, offset, tilt, peak, share,
                    share <= PENETRATION_ALLOWED, T_held, T_loose, 0.0, steps, unsettled,
                    felt + np.array([before, 0.0, 0.0, 0.0]))  # fmt: skip


def _stops(task: Insertion) -> tuple[Array, Array]:
    """Where contact begins, and travel of the command after each step from there."""
    pairs = [p for p in task.pairs if not p.own]
    starts = [task.engaged(p, task.T_start) for p in pairs]
    tilt = math.acos(min(1.0, max(abs(float(task.way @ task.T_start[:3, 2])), 0.5)))
    reach = [_ABOVE + _radius(task, p) * math.sin(tilt) for p in pairs]
    first = max(0.0, min(-e - r for e, r in zip(starts, reach, strict=True)))
    T_begin = np.array(task.T_start)
    T_begin[:3, 3] += min(first, task.length) * task.way
    length = task.length - min(first, task.length)
    # While lead-ins hold the part back its command runs ahead, at most as far as the force limit lets it.
    ahead = task.force_limit / task.support.axial
    fine = [
        (-e - r - first, -e + task.crossing(p) + r - first)
        for p, e, r in zip(pairs, starts, reach, strict=True)
    ]
    fine.append((length - 3e-4, length))
    behind = [(a, b + ahead) for a, b in fine]
    steps = ((_FINE, fine), (2 * _FINE, behind))
    stops, at = [], 0.0
    while at < length - 1e-9:
        step = next((s for s, spans in steps if any(a <= at < b for a, b in spans)), _COARSE)
        following = [a for a, _ in fine if a > at] if step > _FINE else []
        at = min(at + step, length, *following)
        stops.append(at)
    return T_begin, np.array(stops or [0.0])


def _radius(task: Insertion, pair: Pair) -> float:
    shape = task.pieces[pair.inner].shape
    return (
        shape.radius if isinstance(shape, RoundShaft) else shape.tip if isinstance(shape, GearTeeth) else 0.0
    )


def _bodies(task: Insertion, T_begin: Array) -> tuple[Array, Array, Array]:
    """Where they are commanded to, where they stand, and how they are held."""
    s, loose = task.support, [b.T_world_body for b in task.loose]
    centre = se3.translation(*s.T_feature_centre[:3, 3])
    now = T_begin if task.T_now is None else task.T_now
    return (
        np.array([T_begin @ centre, *loose]),
        np.array([now @ centre, *loose]),
        np.array([(s.lateral, s.axial, s.angular, s.angular), *[_LOOSE] * len(task.loose)]),
    )


def _in_body(task: Insertion, index: int, centre: Array) -> Array:
    piece = task.pieces[index]
    return np.asarray(
        se3.translation(*(-centre)) @ piece.T_body_shape if piece.body == 0 else piece.T_body_shape
    )


def _row(task: Insertion, index: int) -> list[float]:
    piece = task.pieces[index]
    shape, planes = piece.shape, len(_used_planes(piece.shape))
    of = [float(piece.body), float(piece.opens_into), float(planes)]
    if isinstance(shape, RoundHole):
        return [0.0, *of, 1.0, shape.radius, shape.half, 1.0, 1.0, 0.0, 0.0]
    if isinstance(shape, RoundShaft):
        return [0.0, *of, -1.0, shape.radius, 0.0, 1.0, 1.0, 0.0, 0.0]
    if isinstance(shape, GearTeeth):
        tooth = [float(shape.teeth), shape.base_radius, shape.half_tooth_at_base, shape.root_radius]
        return [1.0, *of, -1.0, shape.tip, 0.0, *tooth]
    return [0.0, *of, -1.0, 1.0, 0.0, 1.0, 1.0, 0.0, 0.0]


def _planes(shape: Shape) -> Array:
    out = np.zeros((6, 3))
    used = _used_planes(shape)
    out[: len(used)] = used
    return out


def _used_planes(shape: Shape) -> _Planes:
    """Material is where every a u + b z + c is positive."""
    if isinstance(shape, RoundHole):
        return [(1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, -1.0, shape.length), *_chamfer(shape, 1.0, 0.0)]
    if isinstance(shape, RoundShaft):
        return [(1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 1.0, shape.length), *_chamfer(shape, -1.0, 0.0)]
    if isinstance(shape, GearTeeth):
        ends: _Planes = [(1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 1.0, shape.length)]
        return [*ends, *_chamfer(shape, -1.0, 0.0), *_chamfer(shape, 1.0, shape.length)]
    return [(0.0, -1.0, 0.0)]


def _chamfer(shape: RoundHole | RoundShaft | GearTeeth, sign: float, off: float) -> _Planes:
    """Behind the cone through (u = width, z = 0) and (u = 0, |z| = depth), at the end that lies `off` below z
    = 0."""
    width, depth = shape.chamfer_width, shape.chamfer_depth
    if width <= 0:
        return []
    size = math.hypot(1 / width, 1 / depth)
    return [(1 / width / size, sign / depth / size, (off / depth - 1) / size)]


def _rims(task: Insertion) -> tuple[Array, Array]:
    rows: list[list[float]] = []
    points: list[Array] = []
    count = 0
    for pair in task.pairs:
        for on, material in ((pair.inner, pair.outer), (pair.outer, pair.inner)):
            for rim in _rims_of(task, on, material):
                flat = np.hypot(rim[:, 0], rim[:, 1])
                rows.append([on, material, count, len(rim), rim[0, 2], float(flat.min()), float(flat.max())])
                points.append(rim)
                count += len(rim)
    return np.array(rows), np.concatenate(points)


def _rims_of(task: Insertion, on: int, material: int) -> list[Array]:
    piece = task.pieces[on]
    shape = piece.shape
    if isinstance(shape, Corners):
        return [shape.points]
    if isinstance(shape, Seat) or isinstance(task.pieces[material].shape, Seat):
        return []
    if isinstance(shape, GearTeeth):
        return _gear_rims(task, on, material)
    opens = cast(RoundHole, task.pieces[piece.opens_into].shape) if piece.opens_into >= 0 else None
    T = np.eye(4)
    if opens is not None:
        T = se3.inverse(task.pieces[piece.opens_into].T_body_shape) @ piece.T_body_shape
    return list(_round_rims(shape, opens, T.tobytes()))


@lru_cache(maxsize=64)
def _round_rims(shape: RoundHole | RoundShaft, opens: RoundHole | None, placed: bytes) -> tuple[Array, ...]:
    """Kept, for a part that is let down again and again keeps its shape. opens: the hole that it opens into;
    placed: T_opens_shape (4, 4)."""
    sign = 1.0 if isinstance(shape, RoundHole) else -1.0
    width, depth = shape.chamfer_width, shape.chamfer_depth
    rings = [(shape.radius, sign * depth), (shape.radius, sign * shape.length)]
    if width > 0:
        rings.append((shape.radius + sign * width, 0.0))
    half = shape.half if isinstance(shape, RoundHole) else 0.0
    found = [_ring(radius, z, half) for radius, z in rings]
    if opens is None:
        return tuple(found)
    T = np.frombuffer(placed).reshape(4, 4)
    return tuple(_outside(opens, T, ring) for ring in found)


def _outside(shape: RoundHole, T: Array, ring: Array) -> Array:
    """Without the points of a hole's rim that lie in the hole it opens into, where there is no wall, and with
    those where it runs into that hole: the corners of the ridge between them. T: T_opens_ring (4, 4)."""

    def walled(points: Array) -> Array:
        at = points @ T[:3, :3].T + T[:3, 3]
        return np.asarray(np.hypot(at[:, 0], at[:, 1]) > _wall(shape, at[:, 2]))

    kept = walled(ring)
    ends = np.flatnonzero(kept != np.roll(kept, -1))
    corners = [_corner(ring[i], ring[(i + 1) % len(ring)], walled) for i in ends]
    return np.concatenate([ring[kept], *corners])


def _wall(hole: RoundHole, z: Array) -> Array:
    """Radius of a hole at depths (n,), its chamfer included."""
    if hole.chamfer_width <= 0:
        return np.full(len(z), hole.radius)
    left = np.clip(1.0 - z / hole.chamfer_depth, 0.0, 1.0)
    return np.asarray(hole.radius + hole.chamfer_width * left)


def _corner(a: Array, b: Array, walled: Callable[[Array], Array]) -> Array:
    """Where a circle about z, between two of its points, runs into the other hole (1, 3)."""
    low, high = (math.atan2(p[1], p[0]) for p in ((a, b) if bool(walled(a[None])[0]) else (b, a)))
    high = low + math.remainder(high - low, 2 * math.pi)
    radius = float(np.hypot(a[0], a[1]))

    def at(angle: float) -> Array:
        return np.array([[radius * math.cos(angle), radius * math.sin(angle), a[2]]])

    for _ in range(30):
        middle = (low + high) / 2
        low, high = (middle, high) if bool(walled(at(middle))[0]) else (low, middle)
    return at(low)


def _ring(radius: float, z: float, half: float) -> Array:
    angle = (np.arange(POINTS) + 0.5) * 2 * math.pi / POINTS
    xy = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    xy[:, 0] += half * np.sign(xy[:, 0])
    return np.column_stack([xy, np.full(POINTS, z)])


def _gear_rims(task: Insertion, on: int, material: int) -> list[Array]:
    """The ends of the teeth that face the other gear, near the line of centres: one rim for each height."""
    gear, other = (cast(GearTeeth, task.pieces[i].shape) for i in (on, material))
    T = se3.inverse(task.T_world(on, task.T_start)) @ task.T_world(material, task.T_start)
    direction = math.atan2(T[1, 3], T[0, 3])
    middles = gear.near(direction, math.radians(40))
    # The other gear lies ahead along the way of the held one.
    ahead = float(task.way @ task.T_world(on, task.T_start)[:3, 2])
    ahead = ahead if task.pieces[on].body == 0 else -ahead
    end, inward = (0.0, -1.0) if ahead > 0 else (-gear.length, 1.0)
    least = float(np.hypot(T[0, 3], T[1, 3])) - other.tip - 1e-4
    levels = [(gear.tip - gear.chamfer_width, end), (gear.tip, end + inward * gear.chamfer_depth)]
    out = []
    for top, z in levels[: 2 if gear.chamfer_width > 0 else 1]:
        xy = gear.outline(np.linspace(max(least, gear.root_radius), top, FLANK_POINTS), middles)
        near = np.hypot(xy[:, 0] - T[0, 3], xy[:, 1] - T[1, 3]) < other.tip + _AROUND
        out.append(np.column_stack([xy[near], np.full(int(near.sum()), z)]))
    return [rim for rim in out if len(rim)]


def _share(task: Insertion, rims: Array, deepest: Array) -> float:
    """Deepest penetration as a share of the clearance, over all pairs that have one."""
    clearance = {(p.inner, p.outer): p.clearance for p in task.pairs}
    shares = [0.0]
    for row, depth in zip(rims, deepest, strict=True):
        key = (int(row[0]), int(row[1]))
        play = clearance.get(key, clearance.get(key[::-1], 0.0))
        if play > 0:
            shares.append(float(depth) / play)
    return max(shares)
