"""Shafts pressed into their holes, as this build has them: a rule of geometry says whether the shaft finds
its way in, the thick-walled cylinder how hard it is to push.

It finds its way in if, with the middle of its tip at the mouth, every point of its tip's edge lies within the
mouth of the hole's lead-in; and if, once the lead-in has led it to the middle, that whole edge is past the
mouth before the thick of the shaft bites anywhere (else it bites on one side and cuts, at once or as it
rights itself: not modelled, counts as failed). Edges are taken point by point on the true, leaning shaft.

Then hub and shaft press on each other as rings of Lame do. With the radii r of the joint and R of the hub's
outside, the pressure p widens the bore by

    u_hub = p r / E_hub ((R^2 + r^2) / (R^2 - r^2) + nu),    and narrows the solid shaft by
    u_shaft = p r / E_shaft (1 - nu),

which together are half the interference (Shigley, Mechanical Engineering Design, press and shrink fits, from
memory; the same as DIN 7190-1). Pushing takes mu p 2 pi r l, growing with the length l that is in. nu is 0.3.
A hub without a `wall` is part of a large body, a part without a `modulus` is steel of 210 GPa.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import cast

import numpy as np

from handfast.model.mate import Mate
from handfast.model.part import Part
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.contact_shapes import RoundHole, RoundShaft
from handfast.trials.insertion import Inserted, Insertion, Pair
from handfast.trials.true_cell import TrueCell

_POISSON, _STEEL = 0.3, 210e9  # [-], [Pa]
_AROUND = np.arange(72) * 2 * math.pi / 72
_STEPS = 20  # told of the growing force


def pressed_pairs(task: Insertion) -> tuple[Pair, ...]:
    """Pairs whose shaft is thicker than its hole in this build."""
    pieces = task.pieces
    return tuple(
        p for p in task.pairs if not p.own and p.clearance < 0
        and isinstance(pieces[p.inner].shape, RoundShaft) and isinstance(pieces[p.outer].shape, RoundHole)
    )  # fmt: skip


def pressed_in(
    cell: TrueCell, mate: Mate, task: Insertion, pressed: tuple[Pair, ...],
    solve: Callable[[Insertion], Inserted],
) -> Inserted:  # fmt: skip
    """The task with its pressed pairs. The others go in in contact, before anything is pressed.

    Where the force does not suffice the part stays as deep as it came.
    """
    beside = tuple(p for p in task.pairs if p not in pressed)
    first = solve(replace(task, pairs=beside)) if beside else None
    if first is not None and first.outcome != "ok":
        return first
    offset, tilt = task.at_mouth()
    for pair in pressed:
        cause = not_led_in(task, pair)
        if cause:
            return _ended(task, cause, _met(task, pair), 0.0, task.T_start, offset, tilt)
    full = [(_depth(mate, task, p), push_force(cell, task, p, _depth(mate, task, p))) for p in pressed]
    needed, deep = sum(f for _, f in full), max(d for d, _ in full)
    begun = max(0.0, task.length - deep)
    share = min(1.0, task.force_limit / needed) if needed > 0 else 1.0
    at = begun + share * (task.length - begun)
    ends = _righted(task, pressed[0], at)
    cause = "" if share == 1.0 else f"pressing takes {needed:.0f} N, the hand gives {task.force_limit:.0f} N"
    found = _ended(task, cause, at, share * needed, ends, offset, tilt)
    steps = np.linspace(0.0, 1.0, _STEPS)[:, None]
    return replace(found, felt=np.hstack([begun + steps * (at - begun), steps * share * needed,
                                          np.zeros((_STEPS, 2))]))  # fmt: skip


def push_force(cell: TrueCell, task: Insertion, pair: Pair, depth: float) -> float:
    """That keeps the shaft going when it is `depth` [m] in [N]."""
    hub, shaft = _of(cell, task, pair.outer), _of(cell, task, pair.inner)
    bore = _round(task, pair)[1]
    wall = hub.feature(task.pieces[pair.outer].name.removeprefix(f"{hub.name}.")).wall
    return task.friction * 2 * math.pi * bore.radius * depth * joint_pressure(
        -pair.clearance, bore.radius, math.inf if wall is None else bore.radius + wall,
        hub.modulus or _STEEL, shaft.modulus or _STEEL,
    )  # fmt: skip


def joint_pressure(overlap: float, radius: float, outside: float, hub: float, shaft: float) -> float:
    """Between a hub and a solid shaft [Pa]. overlap: of the radii [m]; radius of the joint, outside: of the
    hub [m], infinite for a large body; hub, shaft: moduli [Pa]."""
    ring = 1.0 if math.isinf(outside) else (outside**2 + radius**2) / (outside**2 - radius**2)
    return max(overlap, 0.0) / (radius * ((ring + _POISSON) / hub + (1 - _POISSON) / shaft))


def not_led_in(task: Insertion, pair: Pair) -> str:
    """Why the shaft does not find its way in, "" if it does."""
    shaft, hole = _round(task, pair)
    T = _at_mouth(task, pair)
    tip = _rim(shaft.radius - shaft.chamfer_width, 0.0) @ T[:3, :3].T
    if np.hypot(*(tip + T[:3, 3])[:, :2].T).max() > hole.radius + hole.chamfer_width:
        return "missed the lead-in"
    thick = (_rim(shaft.radius, -shaft.chamfer_depth) @ T[:3, :3].T)[:, 2]
    overlap = -pair.clearance
    # In the lead-in's cone the thick of the shaft bites where the cone is as narrow as it.
    width = max(hole.chamfer_width, 1e-12)
    bites = hole.chamfer_depth * max(0.0, 1 - overlap / width)
    if float(tip[:, 2].min() - thick.max()) + bites <= 0:
        return "stands too oblique to be pressed in"
    return ""


def _at_mouth(task: Insertion, pair: Pair) -> Array:
    """The shaft in the hole's frame (4, 4) as commanded, where its tip is at the mouth."""
    first, last = task.engaged(pair, task.T_start), task.engaged(pair, task.T_home)
    T = np.array(task.T_start)
    T[:3, 3] += -first / (last - first) * (task.T_home[:3, 3] - task.T_start[:3, 3])
    return np.asarray(se3.inverse(task.T_world(pair.outer, T)) @ task.T_world(pair.inner, T))


def _rim(radius: float, z: float) -> Array:
    return np.column_stack([radius * np.cos(_AROUND), radius * np.sin(_AROUND), np.full(len(_AROUND), z)])


def _met(task: Insertion, pair: Pair) -> float:
    """Travel of the command to the mouth [m]."""
    return min(max(-task.engaged(pair, task.T_start), 0.0), task.length)


def _depth(mate: Mate, task: Insertion, pair: Pair) -> float:
    """How long shaft and hole bear on each other at home [m]."""
    shaft, hole = _round(task, pair)
    names = {task.pieces[pair.inner].name, task.pieces[pair.outer].name}
    asked = next(
        (abs(p.depth) for p in mate.pairs
         if {f"{mate.part}.{p.moving}", f"{p.fixed_part}.{p.fixed}"} == names), 0.0,
    )  # fmt: skip
    return min(x for x in (asked or math.inf, shaft.length, hole.length))


def _righted(task: Insertion, pair: Pair, at: float) -> Array:
    """The held body (4, 4) after `at` [m] of the command, its shaft in line with the hole."""
    T = np.array(task.T_home)
    T[:3, 3] += (at - task.length) * task.way
    outer, inner = task.pieces[pair.outer], task.pieces[pair.inner]
    T_outer, T_inner = task.T_world(pair.outer, T), task.T_world(pair.inner, T)
    apart = se3.inverse(T_outer) @ T_inner
    spun = math.atan2(apart[1, 0] - apart[0, 1], apart[0, 0] + apart[1, 1])
    straight = se3.translation(0, 0, float(apart[2, 3])) @ se3.rotation(np.array([0.0, 0, 1]), spun)
    if outer.body == 0:  # the hole is held
        return np.asarray(T_inner @ se3.inverse(straight) @ se3.inverse(outer.T_body_shape))
    return np.asarray(T_outer @ straight @ se3.inverse(inner.T_body_shape))


def _round(task: Insertion, pair: Pair) -> tuple[RoundShaft, RoundHole]:
    return cast(RoundShaft, task.pieces[pair.inner].shape), cast(RoundHole, task.pieces[pair.outer].shape)


def _of(cell: TrueCell, task: Insertion, piece: int) -> Part:
    name = task.pieces[piece].name.partition(".")[0]
    return cell.project.product.part(name)


def _ended(
    task: Insertion, cause: str, travel: float, peak: float, T_held: Array, offset: float, tilt: float
) -> Inserted:
    loose = tuple(b.T_world_body for b in task.loose)
    return Inserted("failed" if cause else "ok", cause, travel, offset, tilt, peak, 0.0, True, T_held, loose,
                    0.0, 0)  # fmt: skip
