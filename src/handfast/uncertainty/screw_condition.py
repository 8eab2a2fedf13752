"""The conditions of a screw: its point passes the holes on the way, and is caught by the lead-in of its
thread.

A geometric rule, derived from the thread (ISO 68-1); no published limit was found for the last:

- the point comes down within the lead-ins of thread and screw at the thread's mouth;
- at the mouth of each hole on the way, the screw's axis lies within the hole's radial room, lead-ins added;
- at the same mouth, the thread's axis lies within that room without lead-ins: the shank has to go through;
- the screw leans by less than half a pitch across its diameter, or a turn may meet the wrong flank;
- each time the bit goes to the screw, its axis comes down within the socket; it then turns to the hexagon.

How the first turn then goes is not modelled: all of it is the condition at which the screw is started, once
a screw, however often a tightening pattern comes back to it.
"""

from __future__ import annotations

import math

from handfast.model.feature import Feature
from handfast.standards.threads import MetricThread, coarse_thread
from handfast.uncertainty.condition import Condition, Group, listed
from handfast.uncertainty.entry import Entry
from handfast.uncertainty.refusal import BudgetError
from handfast.uncertainty.requirement import lateral, tilt


def screw_conditions(entry: Entry) -> tuple[Condition, ...]:
    """The thread's own condition, two for each hole on the way, one for each time the bit goes into the
    socket. Raises BudgetError for a screw without thread.
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
    bits = [_bit(entry, i) for i in range(len(entry.taken))]
    return (own, *point, *shank, *bits)


def _through(entry: Entry, group: Group, index: int, thread: MetricThread, point: float | None) -> Condition:
    """The hole at this index. point: the screw's lead-in; None: the whole shank has to fit."""
    passed = listed(entry, group)[index]
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


def _bit(entry: Entry, index: int) -> Condition:
    """The bit comes down within the socket."""
    pair = entry.taken[index]
    radius = (pair.fixed.diameter or 0.0) / 2
    what = "bit into its socket" if index == 0 else f"bit into its socket, round {index + 1}"
    asked = (lateral("lateral", radius),)
    return Condition(pair, "taken", index, what, radius, math.pi / 2, asked, what, (0.0, 0.0))


def _condition(
    entry: Entry, group: Group, index: int, allowed: float, lean: float, what: str, clearance: float
) -> Condition:
    pair = listed(entry, group)[index]
    asked = (lateral("lateral", allowed), tilt("lean", lean))
    return Condition(pair, group, index, what, allowed, lean, asked, what, (clearance, clearance))


def _lead_in(feature: Feature) -> float:
    return feature.chamfer.width if feature.chamfer is not None else 0.0
