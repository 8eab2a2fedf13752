"""Whether a screw finds its thread: a geometric rule, no contact simulation.

The bit takes a screw up if it comes down within the socket. The screw then starts if

1. its point goes into the hole of every part in between: lateral distance of its axis at that hole's mouth
   at most hole radius less half the thread's diameter, plus the lead-ins of hole and point;
2. its point comes down within the lead-in of the thread and its own: lateral distance at the thread's mouth;
3. once started it follows the thread, so the hole in between has to leave room for the whole shank: distance
   of the two axes at most hole radius less half the thread's diameter;
4. its tilt lets the same turn engage all round: tan(tilt) at most half a pitch over the diameter (more, and
   it would catch the neighbouring turn on one side: cross-threaded).

Lead-ins are the chamfers that the product's file gives; a point without one is as thick as the thread (ISO
4762 lets small screws be as rolled). Derived from the thread's geometry (ISO 68-1); no published limit was
found for 4.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from handfast.model.feature import Feature
from handfast.model.mate import Mate
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.standards.threads import MetricThread, coarse_thread
from handfast.trials.true_cell import TrueCell

_OVER_THREAD = 1.5e-3  # a hole this near to a thread's axis is the one its screw goes through [m]


@dataclass(frozen=True, slots=True)
class ScrewStart:
    """cause ("" if it starts); offset [m] and tilt [rad] at the mouth of the thread."""

    cause: str
    offset: float
    tilt: float


def take_up(cell: TrueCell, tool: str) -> str | None:
    """The screw that the bit of this tool takes up where it stands, None if there is none in reach.

    The bit's hexagon and the suction set everything but the turn about the bit, which the screw keeps.
    """
    T_world_bit = cell.T_world_bit(tool)
    for mate in cell.project.product.mates:
        part = cell.project.product.part(mate.part)
        sockets = [f for f in part.features if f.kind == "hole"]
        if (
            mate.kind != "screw"
            or mate.tool != tool
            or not sockets
            or cell.items[part.name].parent.startswith("part.")
        ):
            continue
        socket = sockets[0]
        T_part_bottom = socket.frame.matrix @ se3.translation(0, 0, socket.length or 0.0)
        eta = se3.inverse(T_world_bit) @ cell.T_world(part.name) @ T_part_bottom
        reach = (socket.diameter or 0.0) / 2
        if math.hypot(eta[0, 3], eta[1, 3]) < reach and abs(eta[2, 3]) < (socket.length or 0.0):
            roll = math.atan2(eta[1, 0], eta[0, 0])
            seated = se3.rotation(np.array([0.0, 0, 1]), roll) @ se3.inverse(T_part_bottom)
            cell.attach(part.name, f"tool.{tool}", seated)
            return part.name
    return None


def screw_start(cell: TrueCell, mate: Mate, T_world_grip: Array) -> ScrewStart:
    """Whether the screw on the bit starts, with the hand at T_world_grip (4, 4)."""
    pair, product = mate.pairs[0], cell.project.product
    moving, fixed = (
        product.part(mate.part).feature(pair.moving),
        product.part(pair.fixed_part).feature(pair.fixed),
    )
    thread = coarse_thread(moving.thread or "")
    T_world_thread = cell.T_world_feature(pair.fixed_part, pair.fixed)
    T_world_point = cell.T_world(mate.part, T_world_grip=T_world_grip) @ cell.T_part_feature(
        mate.part, moving
    )
    offset, tilt = _axis_at(se3.inverse(T_world_thread) @ T_world_point)
    capture = _lead_in(fixed) + _lead_in(moving)
    if math.tan(tilt) > thread.pitch / 2 / thread.diameter:
        return ScrewStart("cross-threaded: the screw stands too oblique", offset, tilt)
    for part, hole in _between(cell, mate):
        T_world_hole = cell.T_world_feature(part, hole.name)
        room = cell.draws_of(part).diameter(part, hole) / 2 - thread.diameter / 2
        if _axis_at(se3.inverse(T_world_hole) @ T_world_point)[0] > room + _lead_in(hole) + _lead_in(moving):
            return ScrewStart(f"the screw's point missed the hole in {part}", offset, tilt)
        if _axis_at(se3.inverse(T_world_hole) @ T_world_thread)[0] > room:
            return ScrewStart(f"the hole in {part} does not stand over the thread", offset, tilt)
    return ScrewStart("" if offset <= capture else "the screw's point missed the thread", offset, tilt)


def under_bit(cell: TrueCell, tool: str) -> Mate | None:
    """The screw in its thread over whose socket the bit of this tool stands, None if there is none."""
    T_world_bit = cell.T_world_bit(tool)
    for mate in cell.project.product.mates:
        if mate.kind != "screw" or mate.tool != tool or not cell.items[mate.part].parent.startswith("part."):
            continue
        part = cell.project.product.part(mate.part)
        socket = next((f for f in part.features if f.kind == "hole"), None)
        if socket is None:
            continue
        T_world_mouth = cell.T_world(part.name) @ socket.frame.matrix
        if _axis_at(se3.inverse(T_world_mouth) @ T_world_bit)[0] < (socket.diameter or 0.0) / 2:
            return mate
    return None


def driven(cell: TrueCell, mate: Mate, short: float) -> None:
    """The screw follows its thread to `short` [m] before home and stays there."""
    pair, product = mate.pairs[0], cell.project.product
    T_part_moving = cell.T_part_feature(mate.part, product.part(mate.part).feature(pair.moving))
    T_world_home = cell.T_world_feature(pair.fixed_part, pair.fixed) @ se3.translation(
        0, 0, pair.depth - short
    )
    T_world_screw = T_world_home @ se3.inverse(T_part_moving)
    cell.attach(mate.part, f"part.{mate.into}", se3.inverse(cell.T_world(mate.into)) @ T_world_screw)


def expected_angle(mate: Mate, thread: MetricThread) -> float:
    """Turn from the first touch of the thread to the seated head [rad]."""
    return 2 * math.pi * abs(mate.pairs[0].depth) / thread.pitch


def _between(cell: TrueCell, mate: Mate) -> list[tuple[str, Feature]]:
    """Holes of other parts that lie over the same thread, and of clamped parts those that stand over it."""
    goal = (mate.pairs[0].fixed_part, mate.pairs[0].fixed)
    out = []
    for other in cell.project.product.mates:
        seated = other.part != mate.part and cell.items[other.part].parent.startswith("part.")
        for pair in other.pairs if seated else ():
            feature = cell.project.product.part(other.part).feature(pair.moving)
            if (pair.fixed_part, pair.fixed) == goal and feature.kind == "hole":
                out.append((other.part, feature))
    T_world_thread = cell.T_world_feature(*goal)
    for part in mate.clamps:
        held = cell.items[part].parent.startswith("part.")
        for hole in cell.project.product.part(part).features if held else ():
            T = se3.inverse(T_world_thread) @ cell.T_world_feature(part, hole.name)
            stands_over = hole.kind == "hole" and abs(float(T[2, 2])) > 0.99
            if stands_over and _axis_at(T)[0] < _OVER_THREAD and (part, hole) not in out:
                out.append((part, hole))
    return out


def _lead_in(feature: Feature) -> float:
    return feature.chamfer.width if feature.chamfer is not None else 0.0


def _axis_at(T: Array) -> tuple[float, float]:
    """Where the z axis of T (4, 4) passes the plane z = 0: distance from the origin [m]; its tilt [rad]."""
    x, y, z = T[:3, 3]
    zx, zy, zz = T[:3, 2]
    if abs(zz) < 1e-9:
        return math.inf, math.pi / 2
    return math.hypot(x - z * zx / zz, y - z * zy / zz), math.acos(min(1.0, abs(float(zz))))
