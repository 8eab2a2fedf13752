"""The conditions of a screw: its tip passes the holes on the way, and is caught by the lead-in of its thread.

A rule of our own, no source: the axis at the tip must lie within the radial room of each hole it passes,
chamfers added, and within the lead-ins of thread and screw at the mouth; and the screw must lean by less
than half a pitch across its diameter, or its first turn may meet the wrong flank. How the first turn then
goes is not modelled. Normal errors, closed form for each disc, Frechet's bounds for both together.
"""

from __future__ import annotations

import math

from handfast.model.feature import Feature
from handfast.model.ledger import Band
from handfast.spatial.se3 import Array
from handfast.standards.threads import coarse_thread
from handfast.uncertainty.condition import Condition, all_hold
from handfast.uncertainty.disc_probability import disc_probability
from handfast.uncertainty.entry import Entry, PairEntry
from handfast.uncertainty.refusal import BudgetError
from handfast.uncertainty.spread import LATERAL, TILT, block


def screw_conditions(entry: Entry) -> tuple[Condition, ...]:
    """The thread's own condition, then one for each hole on the way. Raises BudgetError for a screw without
    a thread.
    """
    goal = entry.pairs[0]
    thread = goal.moving.thread or goal.fixed.thread
    if thread is None:
        raise BudgetError(f"mate {entry.mate.name!r}", "a thread on the screw", "none", "write `thread: M4`")
    size = coarse_thread(thread)
    lean = math.atan(0.5 * size.pitch / size.diameter)
    caught = _lead_in(goal.moving) + _lead_in(goal.fixed)
    through = [_through(entry, i, size.diameter) for i in range(len(entry.passes))]
    return (_condition(goal, False, 0, caught, lean, f"{thread} in its thread", (0.0, 0.0)), *through)


def _through(entry: Entry, index: int, diameter: float) -> Condition:
    passed = entry.passes[index]
    hole = passed.fixed
    if hole.diameter is None or hole.diameter <= diameter:
        raise BudgetError(
            f"mate {entry.mate.name!r}, hole {passed.of}.{hole.name}", f"one over {diameter * 1e3:g} mm",
            "none" if hole.diameter is None else f"{hole.diameter * 1e3:g} mm",
        )  # fmt: skip
    room = hole.diameter - diameter
    lean = math.atan(room / hole.length) if hole.length else math.pi / 4
    text = f"{diameter * 1e3:g} through {passed.of}.{hole.name} {hole.diameter * 1e3:g}"
    return _condition(passed, True, index, room / 2 + _lead_in(hole), lean, text, (room, room))


def _condition(
    pair: PairEntry,
    passing: bool,
    index: int,
    allowed: float,
    lean: float,
    fit: str,
    clearance: tuple[float, float],
) -> Condition:
    def band(covariance: Array, mean: Array) -> tuple[Band, str]:
        lateral = float(disc_probability(block(covariance, LATERAL), allowed, mean[list(LATERAL)]))
        tilt = float(disc_probability(block(covariance, TILT), lean, mean[list(TILT)]))
        return all_hold((Band(lateral, lateral), Band(tilt, tilt))), ""

    def quick(covariance: Array, mean: Array) -> float:
        return band(covariance, mean)[0].low

    return Condition(pair, passing, index, allowed, lean, band, quick, fit, clearance)


def _lead_in(feature: Feature) -> float:
    return feature.chamfer.width if feature.chamfer is not None else 0.0
