"""A bad part goes to the reject place, and its mate is begun anew with the next of its kind."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from handfast.execution.anew import Anew, NoWayAnewError
from handfast.execution.corrections import Corrections
from handfast.execution.failure import FailureError
from handfast.execution.moved import moved
from handfast.execution.rehearsal import in_order, ready_at
from handfast.execution.retrace import retraced
from handfast.execution.run_state import RunState
from handfast.execution.touching import take_in
from handfast.model.element import Element
from handfast.model.recovery import Recovery

Doing = Callable[[Element], None]


class AnotherError(Exception):
    """Not a failure: the run goes on with other elements. elements: from here to its end, in order."""

    def __init__(self, elements: tuple[Element, ...]) -> None:
        super().__init__("the run goes on with another part")
        self.elements = elements


def reject(run: RunState, element: Element, recovery: Recovery, doing: Doing) -> None:
    """Back out along the line, over the reject place, let go; then AnotherError with what is to be done from
    the mate's first element on.

    Both ways are planned and proven before the hand moves away with the part. doing: carries out one element.
    Raises FailureError where there is no way, nothing but the way back out having been made.
    """
    hand = element.hand
    back = retraced(run.chains[hand], moved(run, element)[-1], np.array(run.cell.state(hand).q))
    if back is not None:
        run.cell.move(hand, back)
    away, again = _planned(run, element, recovery)
    _stands_as(run, away)
    for step in in_order(away.chart, away.first):
        doing(step)
    _begin_anew(run, element, again, _first_of(run, element).number)
    run.journal.note(element, "recovery", f"{element.object} is at {recovery.place}; the next one is taken")
    raise AnotherError(in_order(again.chart, again.first)) from None


def _planned(run: RunState, element: Element, recovery: Recovery) -> tuple[Anew, Anew]:
    states = {name: run.cell.state(name) for name in run.ways}
    q, widths = {n: s.q for n, s in states.items()}, {n: s.width for n, s in states.items()}
    planner = run.planner
    if planner is None:
        raise FailureError("did not go in", "nobody plans anew in this run", "")
    first = _first_of(run, element)
    try:
        away = planner.rejected(run.chart, element.number, recovery.place, q, widths)
        steps = in_order(away.chart, away.first)
        ends = {e.hand: e.motions[-1].q[-1] for e in steps if e.motions}
        opened = {e.hand: e.opening for e in steps if e.opening is not None}
        again = planner.again(run.chart, first.number, {**q, **ends}, {**widths, **opened})
    except NoWayAnewError as error:
        raise FailureError(
            "did not go in",
            f"{element.object} did not go in, and there is no way to {recovery.place} and on: {error}",
            f"take {element.object} out of the {element.hand} hand, see that the next one is in its place, "
            f"and go on with element {first.id}",
        ) from error
    return away, again


def _first_of(run: RunState, element: Element) -> Element:
    own = (e for e in run.chart.elements if e.mate == element.mate and e.kind not in ("hold", "delay"))
    return min(own, key=lambda e: e.number)


def _stands_as(run: RunState, anew: Anew) -> None:
    """Arms are now planned from where they stand."""
    for hand, way in run.ways.items():
        run.planned[hand], way.shift = np.array(anew.q[hand]), np.eye(4)


def _begin_anew(run: RunState, element: Element, again: Anew, first: int) -> None:
    """The mate as if it had not been begun; what touches have shown of earlier mates is kept."""
    earlier = {e.id for e in run.chart.elements if e.number < first}
    ready = ready_at(run.project, again.chart, again.first)
    run.chart, run.scene = again.chart, ready.scene
    run.holding, run.done = dict(ready.holding), ready.done
    run.picks.pop(element.object, None)
    run.sideways.pop(element.mate, None)
    _stands_as(run, again)
    run.touched = tuple(t for t in run.touched if t.element in earlier)
    run.corrections = Corrections()
    if run.ledger is not None:
        for step in again.chart.elements:
            if any(t.element == step.id for t in run.touched):
                take_in(run, step, run.ledger)
