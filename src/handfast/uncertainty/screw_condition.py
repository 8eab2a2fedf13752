"""The conditions of a screw: its point passes the holes on the way, and is caught by the lead-in of its
thread.

A geometric rule, derived from the thread (ISO 68-1); no published limit was found for the last:

- the point comes down within the lead-ins of thread and screw at the thread's mouth;
- at the mouth of each hole on the way, the screw's axis lies within the hole's radial room, lead-ins added;
- at the same mouth, the thread's axis lies within that room without lead-ins: the shank has to go through;
- the screw leans by less than half a pitch across its diameter, or a turn may meet the wrong flank.

How the first turn then goes is not modelled. Normal errors, closed form for each disc, Frechet's bounds for
all together.
"""

from __future__ import annotations

import math

from handfast.model.feature import Feature
from handfast.model.ledger import Band
from handfast.spatial.se3 import Array
from handfast.standards.threads import MetricThread, coarse_thread
from handfast.uncertainty.condition import Condition, Group, all_hold, listed
from handfast.uncertainty.disc_probability import disc_probability
from handfast.uncertainty.entry import Entry
from handfast.uncertainty.refusal import BudgetError
from handfast.uncertainty.spread import LATERAL, TILT, block


def screw_conditions(entry: Entry) -> tuple[Condition, ...]:
    """The thread's own condition, then two for each hole on the way. Raises BudgetError for a screw without
    thread.
    """
    goal = entry.pairs[0]
    name = goal.moving.thread or goal.fixed.thread
    if name is None:
        raise BudgetError(f"mate {entry.mate.name!r}", "a thread on the screw", "none", "write `thread: M4`")
    thread = coarse_thread(name)
    lean = math.atan(0.5 * thread.pitch / thread.diameter)
    caught = _lead_in(goal.moving) + _lead_in(goal.fixed)
    own = _condition(entry, "pairs", 0, caught, lean, f"{name} in its thread", 0.0)
    holes = range(len(entry.passes))
    point = [_through(entry, "passes", i, thread, _lead_in(goal.moving)) for i in holes]
    shank = [_through(entry, "over", i, thread, None) for i in holes]
    return (own, *point, *shank)


def _through(entry: Entry, group: Group, index: int, thread: MetricThread, point: float | None) -> Condition:
    """The hole at this index. point: the screw's lead-in; None: the whole shank has to fit."""
    passed = entry.passes[index]
    hole, where = passed.fixed, f"{passed.of}.{passed.fixed.name}"
    if hole.diameter is None or hole.diameter <= thread.diameter:
        raise BudgetError(
            f"mate {entry.mate.name!r}, hole {where}",
            f"one over {thread.diameter * 1e3:g} mm",
            "none" if hole.diameter is None else f"{hole.diameter * 1e3:g} mm",
        )
    room = hole.diameter - thread.diameter
    lean = math.atan(room / hole.length) if hole.length else math.pi / 4
    lead_in = 0.0 if point is None else _lead_in(hole) + point
    what = "thread under" if point is None else "point into"
    return _condition(entry, group, index, room / 2 + lead_in, lean, f"{thread.name} {what} {where}", room)


def _condition(
    entry: Entry, group: Group, index: int, allowed: float, lean: float, fit: str, clearance: float
) -> Condition:
    def band(covariance: Array, mean: Array) -> tuple[Band, str]:
        lateral = float(disc_probability(block(covariance, LATERAL), allowed, mean[list(LATERAL)]))
        tilt = float(disc_probability(block(covariance, TILT), lean, mean[list(TILT)]))
        return all_hold((Band(lateral, lateral), Band(tilt, tilt))), ""

    def quick(covariance: Array, mean: Array) -> float:
        return band(covariance, mean)[0].low

    pair = listed(entry, group)[index]
    return Condition(pair, group, index, allowed, lean, band, quick, fit, (clearance, clearance))


def _lead_in(feature: Feature) -> float:
    return feature.chamfer.width if feature.chamfer is not None else 0.0
