"""Screws: how tight, what they clamp, in which order."""

from __future__ import annotations

import math

import numpy as np

from handfast.model.tightening import Stage, Tightening
from handfast.spatial.se3 import Array
from handfast.standards.clearance_holes import clearance_hole
from handfast.standards.property_classes import proof_load, property_class
from handfast.standards.socket_head_screws import socket_head
from handfast.standards.threads import coarse_thread
from handfast.standards.tightening import bearing_mean_diameter, tightening_torque

_SHARE = 0.85  # of the proof load at the least friction; common practice, no source
_LEAST_FRICTION = 0.1  # two thirds of dry steel's 0.15
ASSUMED_CLASS = "A2-70"


def guessed_torque(thread: str) -> float:
    """A torque [N m] that keeps a screw of the assumed class below its proof load at the least friction."""
    table = coarse_thread(thread)
    bearing = bearing_mean_diameter(socket_head(thread).bearing_diameter, clearance_hole(thread))
    preload = _SHARE * proof_load(table, property_class(ASSUMED_CLASS))
    torque = tightening_torque(preload, table, _LEAST_FRICTION, _LEAST_FRICTION, bearing)
    digits = 1 - math.floor(math.log10(torque))
    return float(math.floor(torque * 10.0**digits) / 10.0**digits)


def crosswise(places: dict[str, Array]) -> tuple[str, ...]:
    """Screws in turn, each as far as possible from the two before. places: where each stands [m]."""
    left = list(places)
    order: list[str] = []
    while left:
        if not order:
            order.append(left.pop(0))
            continue
        near = [places[n] for n in order[-2:]]
        best = max(left, key=lambda n: _apart(places[n], near))
        left.remove(best)
        order.append(best)
    return tuple(order)


def _apart(place: Array, near: list[Array]) -> tuple[float, float]:
    away = [float(np.linalg.norm(place - p)) for p in near]
    return round(away[-1], 6), round(sum(away), 6)


def tightenings(
    groups: dict[tuple[str, ...], dict[str, Array]], torque: dict[str, float]
) -> tuple[Tightening, ...]:
    """A pattern for each group of two or more screws that clamp the same parts: two turns, a sixth of the
    torque, the torque."""
    found = []
    for clamped, places in groups.items():
        if len(places) < 2:
            continue
        screws = crosswise(places)
        full = min(torque[s] for s in screws)
        stages = Stage(turns=2 * 2 * math.pi), Stage(torque=round(full / 6, 2)), Stage(torque=full)
        found.append(Tightening(f"{'-'.join(clamped) or 'base'}-screws", screws, stages))
    return tuple(found)
