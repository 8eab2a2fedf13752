"""How the tightening of a screw ends in this build: seated, at the end of its hole, or its thread stripped.

Lengths are drawn: the screw's within js15 (ISO 4759-1, from memory; IT15 is ten times IT10 by ISO 286-1's own
formulas), the thread's depth and what is clamped within ISO 2768-1 m, limits at three sigma and cut there.
Friction is drawn evenly between two thirds and four thirds of the screw's own (a choice). The torque then
gives a preload (VDI 2230's form); the screw bears its proof load, A2-70 if no class is written, the thread
of the hole its sheared area (VDI 2230 part 1, from memory) times 180 MPa, which common wrought aluminium
reaches (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from handfast.model.feature import Feature
from handfast.model.mate import Mate
from handfast.standards.clearance_holes import clearance_hole
from handfast.standards.general_tolerances import linear_tolerance
from handfast.standards.it_grades import it_width
from handfast.standards.property_classes import proof_load, property_class
from handfast.standards.socket_head_screws import socket_head
from handfast.standards.tabled_value_error import TabledValueError
from handfast.standards.threads import MetricThread, coarse_thread
from handfast.standards.tightening import bearing_mean_diameter, preload_from_torque
from handfast.trials.draw import Draws, stream
from handfast.trials.true_cell import TrueCell

SHEARS = 180e6  # [Pa]
_CLASS = "A2-70"
_LEAST_CLAMPED = 0.5e-3  # thinner, there is nothing clamped whose thickness could err [m]


@dataclass(frozen=True, slots=True)
class Tightened:
    """ends; gap [m]: between head and seat where the screw met the end of its hole."""

    ends: Literal["seated", "bottomed", "stripped"]
    gap: float = 0.0


def tightened(cell: TrueCell, mate: Mate, torque: float) -> Tightened:
    """What becomes of a screw that has started and is tightened to a torque [N m]."""
    pair, product = mate.pairs[0], cell.project.product
    screw, hole = (
        product.part(mate.part).feature(pair.moving),
        product.part(pair.fixed_part).feature(pair.fixed),
    )
    draws = cell.draws_of(mate.part)
    gap = _gap(draws, mate, screw, hole)
    if gap > 0:
        return Tightened("bottomed", gap)
    friction = product.part(mate.part).friction
    stripped = _strips(draws, mate, screw, hole, friction, torque)
    return Tightened("stripped" if stripped else "seated")


def _gap(draws: Draws, mate: Mate, screw: Feature, hole: Feature) -> float:
    """How far the head stays off its seat, the point having met the end of the hole [m]; 0 if it has not."""
    depth = abs(mate.pairs[0].depth)
    if hole.length is None or not hole.internal or screw.length is None:
        return 0.0
    clamped = max(screw.length - depth, 0.0)
    try:
        long = _within(draws, screw.length, 10 * it_width(screw.length, 10) / 2, "long", mate.part)
        deep = _within(draws, hole.length, linear_tolerance(hole.length), "deep", mate.name)
        thick = clamped
        if clamped >= _LEAST_CLAMPED:
            thick = _within(draws, clamped, linear_tolerance(clamped), "thick", mate.name)
    except TabledValueError:
        return max(0.0, depth - hole.length)
    return max(0.0, long - thick - deep)


def _within(draws: Draws, size: float, tolerance: float, *keys: str) -> float:
    return draws.between((size - tolerance, size + tolerance), "tightening", *keys)


def _strips(draws: Draws, mate: Mate, screw: Feature, hole: Feature, friction: float, torque: float) -> bool:
    thread = coarse_thread(screw.thread or hole.thread or "")
    try:
        bearing = bearing_mean_diameter(
            socket_head(thread.name).bearing_diameter, clearance_hole(thread.name)
        )
    except TabledValueError:
        return False  # a head of another kind: nothing is known of it
    of = stream(draws.seed, "friction", mate.part, draws.build)
    mu = friction * float(of.uniform(2 / 3, 4 / 3))
    preload = preload_from_torque(torque, thread, mu, mu, bearing)
    bears = proof_load(thread, property_class(screw.property_class or _CLASS))
    return preload > min(bears, _sheared(thread, abs(mate.pairs[0].depth)) * SHEARS)


def _sheared(thread: MetricThread, length: float) -> float:
    """Area of a hole's thread that shears over an engaged length [m]: a ring as high as the thread is thick
    at the screw's outer diameter, once a turn [m2]."""
    high = thread.pitch / 2 + (thread.diameter - thread.pitch_diameter) * math.tan(math.pi / 6)
    return math.pi * thread.diameter * high * length / thread.pitch
