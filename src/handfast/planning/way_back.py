"""From where the arms stand to where an element of the chart begins."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import permutations

import numpy as np

from handfast import _kernel
from handfast.execution.rehearsal import Ready, ready_at
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.motion.line import between, waypoints
from handfast.planning.clear_line import blocked
from handfast.planning.connect import connect, roomy
from handfast.planning.failure import Failure
from handfast.planning.leg import element
from handfast.planning.resumed import NoWayError, Resumed, done_before, joined
from handfast.planning.state import State
from handfast.planning.station import line_motion
from handfast.planning.stream import stream
from handfast.planning.workspace import Workspace, make_workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_THERE, _SAME = 1e-4, 1e-9  # an arm this near stands there; this near, no motion leads there [rad]
_CORRECTED = 0.03  # touches move an arm by less [rad]
_NEAR, _LEANING = 2e-3, np.radians(1.0)  # and a hand by less [m, rad]
_RETREATS = (0.02, 0.05, 0.1, 0.15)  # straight back out of a narrow place [m]
_CHANGES = ("grasp", "release", "use")


def way_back(
    project: Project,
    chart: Chart,
    number: int,
    q: Mapping[str, tuple[float, ...]],
    widths: Mapping[str, float],
    seed: int = 0,
) -> Resumed:
    """The chart from element `number` on, with a way in from where the arms stand, one arm after the other.

    q: where each arm stands (n,) [rad]; widths: of its jaws [m]; items are where the chart has them by then.
    Raises KeyError if there is no such element, NoWayError if no way in was found.
    """
    before, time = done_before(chart, number)
    left = [e for e in chart.elements if e.number >= number]
    ready, ws = ready_at(project, chart, number), make_workspace(project)
    stands = {h: (ready.widths[h] if h in ready.holding else widths[h]) for h in ws.hands}
    q = {h: by_plan(project, ready, h, q[h]) for h in ws.hands}
    _must_not_pass(chart, ready, q)
    state = State(ready.scene, {h: np.array(q[h]) for h in ws.hands}, stands)
    why = ""
    for order in permutations(ws.hands):
        try:
            way, rest, begins = _in_order(ws, state, chart, number, left, order, seed)
        except NoWayError as error:
            why = why or str(error)
            continue
        whole = joined(chart, before, way, rest, time)
        return Resumed(whole, number, time, {h: tuple(v.tolist()) for h, v in begins.items()}, stands)
    raise NoWayError(why)


def by_plan(project: Project, ready: Ready, hand: str, q: tuple[float, ...]) -> tuple[float, ...]:
    """A hand that holds a part in its place stands where the plan has it, but for what touches moved it by;
    so does any hand that stands there."""
    planned = ready.q[hand]
    off = float(np.abs(np.array(q) - np.array(planned)).max())
    mate = next((m for m in project.product.mates if m.part == ready.holding.get(hand)), None)
    at_home = mate is not None and mate.name in ready.done
    return planned if off <= _THERE or (at_home and off < _CORRECTED) else q


def _in_order(
    ws: Workspace, state: State, chart: Chart, number: int, left: list[Element], order: tuple[str, ...],
    seed: int,
) -> tuple[tuple[Element, ...], tuple[Element, ...], dict[str, Array]]:  # fmt: skip
    """Ways in, what is left behind them, and where each arm stands as they begin (n,)."""
    way: list[Element] = []
    left, ready, begins = list(left), ready_at(ws.project, chart, number), dict(state.q)
    for hand in order:
        goal = np.array(ready.q[hand])
        if np.abs(state.q[hand] - goal).max() <= _THERE:
            continue
        _must_not_be_home(ws.project, chart, number, state.held_by(hand), hand)
        mine = next((i for i, e in enumerate(left) if e.hand == hand and e.motions), None)
        try:
            motions, skipped = _way(ws, state, hand, _before(chart, hand, number),
                                    left[mine] if mine is not None else None, goal, number, seed)  # fmt: skip
        except NoWayError:
            if not _as_touches_moved_it(ws, hand, state.q[hand], goal):
                raise
            # In a narrow place, where the run had brought it: it goes on from there, moved by as much, and
            # each motion is looked at before it is made.
            state, begins[hand] = state.moved(hand, goal), goal
            continue
        held = state.held_by(hand)
        opening = None if held else state.widths[hand]
        kind = "move" if held else "reach"
        back = element(kind, hand, held or "", "back", chart.element(number).mate, motions, opening=opening)
        way.append(replace(back, id=f"back/{number:02d}-{kind}-{hand}"))
        state = state.moved(hand, np.array(motions[-1].q[-1]))
        if skipped and mine is not None:
            less = sum(m.duration for m in left[mine].motions[:skipped])
            kept = left[mine].motions[skipped:]
            left[mine] = replace(left[mine], motions=kept, duration_s=left[mine].duration_s - less)
    return tuple(way), tuple(left), begins


def _as_touches_moved_it(ws: Workspace, hand: str, q: Array, planned: Array) -> bool:
    """Whether a hand stands no further from where the plan has it than touches move one."""
    grip = ws.hands[hand].grip
    off = se3.log(se3.inverse(grip(planned)) @ grip(q))
    near = np.linalg.norm(off[:3]) < _NEAR and np.linalg.norm(off[3:]) < _LEANING
    return bool(near and np.abs(q - planned).max() < _CORRECTED)


def _must_not_pass(chart: Chart, ready: Ready, q: Mapping[str, tuple[float, ...]]) -> None:
    """Two hands that hold one part cannot come back to it together. Raises NoWayError."""
    items = list(ready.holding.values())
    passed = next((i for i in items if items.count(i) > 1), None)
    if passed is None:
        return
    away = [h for h, i in ready.holding.items() if i == passed
            and np.abs(np.array(q[h]) - np.array(ready.q[h])).max() >= _CORRECTED]  # fmt: skip
    if away:
        first = min(e.number for e in chart.elements if e.kind == "grasp" and e.object == passed)
        first = min(e.number for e in chart.elements if e.mate == chart.element(first).mate)
        raise NoWayError(
            f"both hands hold {passed} by then, and the {' and the '.join(away)} hand stands elsewhere; take "
            f"{passed} out, put it where it started, and begin with element {first}"
        )


def _must_not_be_home(project: Project, chart: Chart, number: int, held: str | None, hand: str) -> None:
    """A hand that holds a part in its place cannot come back to it with the part. Raises NoWayError."""
    mate = next((m for m in project.product.mates if m.part == held), None)
    if mate is None or mate.name not in ready_at(project, chart, number).done:
        return
    now = chart.element(number)
    if now.kind == "release" and now.hand == hand:  # nothing more is asked of the hand: the part may stand
        raise NoWayError(
            f"the {hand} hand has nothing more to do with {held} but to let it go, and stands elsewhere; see "
            f"that {held} is in its place and the hand is empty, and begin with element {number + 1}"
        )
    first = min(e.number for e in chart.elements if e.mate == mate.name and e.kind not in ("hold", "delay"))
    raise NoWayError(
        f"before element {number} the {hand} hand holds {held} in its place, and it stands elsewhere; take "
        f"{held} off, put it where it started, and begin with element {first}"
    )


def _before(chart: Chart, hand: str, number: int) -> tuple[Motion, ...]:
    """The straight lines by which the hand came to where it is before element `number`, nothing grasped or
    left in between."""
    lines: list[Motion] = []
    for e in sorted(
        (e for e in chart.elements if e.hand == hand and e.number < number), key=lambda e: -e.number
    ):
        if e.kind in _CHANGES and not (e.kind == "release" and e.motions):
            break
        for motion in reversed(e.motions):
            if motion.path != "line":
                return tuple(reversed(lines))
            lines.append(motion)
        if e.kind in _CHANGES:
            break
    return tuple(reversed(lines))


def _way(
    ws: Workspace, state: State, hand: str, lines: tuple[Motion, ...], then: Element | None, goal: Array,
    number: int, seed: int,
) -> tuple[tuple[Motion, ...], int]:  # fmt: skip
    """Motions to where the hand goes on, and how many motions of its next element are left out for it."""
    reasons = []
    for out, clear in ways_out(ws, state, hand):
        for target, after, skipped in _targets(goal, lines, then):
            tight = roomy(ws, clear, hand, target)
            same = np.abs(clear.q[hand] - target).max() < _SAME
            free = (
                tight if tight is not None or same else connect(ws, clear, hand, target, stream(seed, hand))
            )
            if isinstance(free, Failure):
                reasons.append(f"{free.cause} ({free.what})")
                continue
            motions = (*out, *(() if free is None else (free,)), *after)
            if motions:
                return motions, skipped
    why = "; ".join(dict.fromkeys(reasons)) or "it stands in a narrow place and finds no straight line out"
    raise NoWayError(
        f"no way for the {hand} hand to where element {number} begins: {why}; `undo` leads it out of a "
        "narrow place, or begin with an earlier element"
    )


def _targets(
    goal: Array, lines: tuple[Motion, ...], then: Element | None
) -> Iterator[tuple[Array, tuple[Motion, ...], int]]:
    """Where a free way may end, the lines from there on, and how many motions of the next element fall
    away."""
    yield goal, (), 0
    if lines:
        yield np.array(lines[0].q[0]), lines, 0
    if then is not None and then.kind in ("move", "reach"):
        for i, motion in enumerate(then.motions):
            if i and motion.path == "free":
                yield np.array(motion.q[0]), (), i


def ways_out(ws: Workspace, state: State, hand: str) -> Iterator[tuple[tuple[Motion, ...], State]]:
    """From where the hand stands to where it has its free-space clearance: at once, or straight back."""
    q = state.q[hand]
    if roomy(ws, state, hand, q) is None:
        yield (), state
        return
    h = ws.hands[hand]
    T = h.grip(q)
    links, world = ws.hand_cover(state, hand, reach=False), ws.world(state, hand)
    speed = ws.project.cell.controller.line_speed / 2
    for direction in (-T[:3, 2], np.array([0.0, 0.0, 1.0])):
        for length in _RETREATS:
            end = se3.translation(*(length * direction)) @ T
            line = waypoints(h.chain, h.tip_for(between(T, end)), q)
            if line is None or not _kernel.free(links, world, line).all():
                continue
            if blocked(ws.moving(state, hand), ws.standing(state, hand), T, length * direction) is not None:
                continue
            if roomy(ws, state, hand, line[-1]) is None:
                yield (line_motion(h, line, T, end, speed),), state.moved(hand, line[-1])
                break
