"""Bringing a part home: insertions and screws."""

from __future__ import annotations

import math

import numpy as np

from handfast.execution.cell import DriveResult, InsertResult, Until
from handfast.execution.failure import FailureError
from handfast.execution.handling import go
from handfast.execution.moved import clear, moved
from handfast.execution.retrace import retraced, sideways
from handfast.execution.run_state import RunState
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.mate import Mate
from handfast.model.motion import Motion
from handfast.model.recovery import Recovery
from handfast.spatial import se3
from handfast.spatial.se3 import Array

# a screw that stops turning this much before its expected turns is not seated, nor is one that turns this
# much longer [turns]; own choice, no source
EARLY, LATE = 0.75, 1.0
_GOLDEN = math.pi * (3 - math.sqrt(5))


def assemble(run: RunState, element: Element) -> None:
    """The part goes in along the last motion. Raises FailureError."""
    mate = run.project.product.mate(element.mate)
    if not element.motions:
        raise FailureError("chart", "nobody says along which line the part goes in", "plan again")
    way = run.ways[element.hand]
    *before, last = moved(run, element)
    for motion in before:
        way.go(motion)
    way.at_start(last)
    run.cell.zero_force(element.hand)
    limit = force_limit(run.chart, mate, element.hand)
    begun = run.cell.clock()
    if element.strategy is None:
        result = run.cell.insert(element.hand, last, limit)
    else:
        result = run.cell.insert(element.hand, last, limit, element.strategy)
    for one in result.felt:
        run.journal.felt(element, begun + one.after, one)
    run.journal.note(element, "insertion", result.cause, ok=result.ok, travel=result.travel,
                     peak_force=result.peak_force)  # fmt: skip
    _judge(run, mate, result)
    run.done |= {mate.name}


def _judge(run: RunState, mate: Mate, result: InsertResult) -> None:
    if result.ok:
        return
    pair = mate.pairs[0]
    raise FailureError(
        "did not go in",
        f"{mate.name} did not go in: {result.cause} (peak {result.peak_force:.1f} N, "
        f"{result.travel * 1e3:.1f} mm on its way)",
        f"take {mate.part} out by hand and look at it and at {pair.fixed_part}.{pair.fixed} "
        "(burrs, chips, size)",
    )


def search(run: RunState, element: Element, recovery: Recovery, number: int) -> None:
    """Go back out, sideways by the next place of the search, and in again. Raises FailureError.

    Places lie on a spiral of equal steps around the planned line, never further off than `reach`.
    """
    chain, cell = run.chains[element.hand], run.cell
    line = moved(run, element)[-1]
    back = retraced(chain, line, np.array(cell.state(element.hand).q))
    if back is not None:
        cell.move(element.hand, back)
    first = run.project.product.mate(element.mate).pairs[0]
    T_world_fixed = run.T_world_feature(first.fixed_part, first.fixed)
    run.sideways[element.mate] = _shift(T_world_fixed, offset(recovery, number))
    x, y = offset(recovery, number).tolist()
    run.journal.note(element, "recovery", f"search, place {number}", x=x, y=y)
    aside = sideways(chain, line, run.ways[element.hand].shift, run.wanted(element))
    if aside is not None:
        clear(run, element, aside)
        run.ways[element.hand].go(aside)
    run.ways[element.hand].shift = run.wanted(element)
    assemble(run, element)


def offset(recovery: Recovery, number: int) -> Array:
    """Where the search looks at its `number`-th place, from 1: (2,) [m] across the line, at most `reach`
    off."""
    radius = min(recovery.step * math.sqrt(number), recovery.reach)
    return np.array([radius * math.cos(number * _GOLDEN), radius * math.sin(number * _GOLDEN)])


def _shift(T_world_fixed: Array, xy: Array) -> Array:
    return np.asarray(
        T_world_fixed @ se3.translation(float(xy[0]), float(xy[1]), 0.0) @ se3.inverse(T_world_fixed)
    )


def force_limit(chart: Chart, mate: Mate, hand: str) -> float:
    """Of the mate, and half of what the grasp holds before the part slips [N]."""
    slips = [
        e.grasp.slip_force / 2 for e in chart.elements
        if e.grasp is not None and e.hand == hand and e.object == mate.part
    ]  # fmt: skip
    return min([mate.force_limit, *slips])


def use(run: RunState, element: Element) -> None:
    """The tool takes a screw up, or drives it home. Raises FailureError."""
    mate, leaves = run.project.product.mate(element.mate), element.leaves
    if leaves is None or mate.tool is None:
        raise FailureError("chart", "nobody says what the tool is used for", "plan again")
    if leaves.parent.startswith("tool."):
        go(run, element)
        _take_up(run, element, mate)
    else:
        _drive(run, element, mate)
        run.cell.digital_out(f"{mate.tool}.retain", False)
        run.done |= {mate.name}
    run.scene = run.scene.moved(leaves)


def take_up_again(run: RunState, element: Element) -> None:
    """Once more where the hand stands. Raises FailureError."""
    _take_up(run, element, run.project.product.mate(element.mate))
    if element.leaves is not None:
        run.scene = run.scene.moved(element.leaves)


def _take_up(run: RunState, element: Element, mate: Mate) -> None:
    """Is the screw on the bit? Raises FailureError."""
    run.cell.digital_out(f"{mate.tool}.retain", True)
    run.cell.pause(element.before_s)
    if not run.cell.digital_in(f"{mate.tool}.retained"):
        run.cell.digital_out(f"{mate.tool}.retain", False)
        raise FailureError(
            "not taken up",
            f"no {element.object} came up on the bit of {mate.tool}",
            f"look whether a {element.object} was presented, put one there, and look at the bit",
        )


def _drive(run: RunState, element: Element, mate: Mate) -> None:
    if element.turns is None or mate.torque is None:
        raise FailureError("chart", "nobody says how the screw is driven", "plan again")
    way = run.ways[element.hand]
    motions = moved(run, element) or (_standing(element.hand, way.q, element.before_s),)
    *before, last = motions
    for motion in before:
        way.go(motion)
    way.at_start(last)
    on_bit = run.scene.of(element.object).parent == f"tool.{mate.tool}"
    if on_bit and not run.cell.digital_in(f"{mate.tool}.retained"):
        raise FailureError(
            "not taken up", f"{element.object} is no longer on the bit of {mate.tool}",
            f"find {element.object}, it may lie in the product; put one where it is presented",
        )  # fmt: skip
    # A round that ends by turns is stopped by the final torque at the latest.
    torque = mate.torque if element.torque is None else element.torque
    until: Until = "turns" if element.torque is None else "torque"
    result = run.cell.drive(element.hand, last, torque, element.turns, element.strategy, until)
    run.journal.note(element, "screw", result.cause, ok=result.ok, torque=result.torque, angle=result.angle)
    _judge_screw(element, mate, result)


def _judge_screw(element: Element, mate: Mate, result: DriveResult) -> None:
    if not result.ok:
        crossed = result.cause.startswith("cross")
        raise FailureError(
            "cross-threaded" if crossed else "screw not started",
            f"{mate.name}: {result.cause}",
            "take the screw out by hand and look at it and at its thread",
        )
    turns, expected = result.angle / (2 * math.pi), (element.turns or 0.0) / (2 * math.pi)
    if not expected - EARLY <= turns <= expected + LATE:
        raise FailureError(
            "screw not seated",
            f"{mate.name}: {result.torque:.2f} N m after {turns:.2f} turns, {expected:.2f} were expected",
            "take the screw out by hand; look for a jam, a wrong screw or a stripped thread",
        )


def _standing(hand: str, q: Array, seconds: float) -> Motion:
    """Staying where the hand is: a screw that only gets its torque needs no way."""
    here, rest = tuple(q.tolist()), (0.0,) * len(q)
    return Motion(hand, "line", (0.0, max(seconds, 0.1)), (here, here), (rest, rest))
