"""Out of an element that failed, back along the way the hand came, to where it stands clear."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from handfast.execution.rehearsal import ready_at
from handfast.execution.retrace import onward, retraced
from handfast.kinematics.chain import load_chain
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.motion.timing import at
from handfast.planning.leg import element
from handfast.planning.resumed import NoWayError, Resumed, StandsClearError, done_before, joined
from handfast.spatial.se3 import Array

_ON_WAY = 0.06  # an arm further off its planned way is not on it: corrections move it by less [rad]
_OPEN = 1e-3  # jaws this near to the width they were to open to have let go [m]
_TINY = 1e-6
_CHANGES = ("grasp", "release", "use")
Step = tuple[Element, Motion]


def way_out(
    project: Project,
    chart: Chart,
    number: int,
    q: Mapping[str, tuple[float, ...]],
    widths: Mapping[str, float],
) -> tuple[Resumed, int]:
    """The chart up to element `number`, which failed, then back out of it; and the element to go on with.

    Back along the planned lines to the end of the last free motion; out of a free motion to its start. q (n,)
    [rad], widths [m]: as the cell says. The arm's place in the chart is the nearest point of its way; `q` of
    what comes back is that point. Raises StandsClearError where it stands clear, NoWayError where it is not
    on its way.
    """
    failed = chart.element(number)
    hand = failed.hand
    if failed.kind == "release" and failed.opening is not None and widths[hand] > failed.opening - _OPEN:
        return _led_away(project, chart, failed, q, widths)
    ready = ready_at(project, chart, number)
    steps = _steps(chart, failed)
    if not steps:
        raise StandsClearError(hand, number)
    chain = load_chain(project.cell.arm(hand), project.folder)
    place, here = _place(steps, failed, np.array(q[hand]))
    back, resume = [], number
    for i in range(place, -1, -1):
        step, motion = steps[i]
        gone = retraced(chain, motion, here)
        back += [] if gone is None else [gone]
        here, resume = np.array(motion.q[0]), step.number
        if motion.path == "free" or (i > 0 and steps[i - 1][1].path == "free"):
            break
    if not back:
        raise StandsClearError(hand, resume)
    before, time = done_before(chart, number)
    holds = ready.holding.get(hand)
    opening = None if holds else max(ready.widths[hand], widths[hand])
    out = replace(
        element("move", hand, holds or "", "back", failed.mate, tuple(back), opening=opening),
        id=f"undo/{number:02d}-move-{hand}",
    )
    whole = joined(
        replace(chart, mates=tuple(m for m in chart.mates if m in ready.done)), before, (out,), (), time
    )
    stands = {**ready.q, hand: back[0].q[0]}
    kept = {h: (ready.widths[h] if h in ready.holding else widths[h]) for h in widths}
    return Resumed(whole, number, time, stands, kept, to_the_end=False), resume


def _led_away(
    project: Project,
    chart: Chart,
    failed: Element,
    q: Mapping[str, tuple[float, ...]],
    widths: Mapping[str, float],
) -> tuple[Resumed, int]:
    """A hand that has let go leaves by the rest of its way; what it let go stays."""
    hand, over = failed.hand, failed.start_s + failed.duration_s - _TINY
    then = next((e.number for e in chart.elements if e.number > failed.number and e.start_s >= over), None)
    steps = [(failed, m) for m in failed.motions]
    if not steps or then is None:
        raise StandsClearError(hand, then or len(chart.elements))
    chain = load_chain(project.cell.arm(hand), project.folder)
    place, here = _place(steps, failed, np.array(q[hand]))
    first = onward(chain, failed.motions[place], here)
    away = (*(() if first is None else (first,)), *failed.motions[place + 1 :])
    if not away:
        raise StandsClearError(hand, then)
    ready = ready_at(project, chart, then)
    before, time = done_before(chart, then)
    stays = sum(m.duration for m in failed.motions)
    kept = tuple(
        replace(e, motions=(), duration_s=failed.duration_s - stays) if e.number == failed.number else e
        for e in before
    )
    out = replace(
        element("move", hand, "", "away", failed.mate, away, opening=widths[hand]),
        id=f"undo/{then:02d}-move-{hand}",
    )
    whole = joined(
        replace(chart, mates=tuple(m for m in chart.mates if m in ready.done)), kept, (out,), (), time
    )
    stands = {**ready.q, hand: away[0].q[0]}
    open_ = {h: (ready.widths[h] if h in ready.holding else widths[h]) for h in widths}
    return Resumed(whole, then, time, stands, open_, to_the_end=False), then


def _steps(chart: Chart, failed: Element) -> list[Step]:
    """The hand's motions up to the failed element and with it, since it last took or left something."""
    own = [e for e in chart.elements if e.hand == failed.hand and e.number <= failed.number]
    steps: list[Step] = []
    for e in sorted(own, key=lambda e: e.number):
        if e.kind in _CHANGES and e is not failed:
            steps = [(e, m) for m in e.motions] if e.kind == "release" else []
        else:
            steps += [(e, m) for m in e.motions]
    return [s for s in steps if s[0] is failed] if failed.kind == "release" else steps


def _place(steps: list[Step], failed: Element, q: Array) -> tuple[int, Array]:
    """Which motion the arm is on, and the nearest point of it (n,). Raises NoWayError if it is on none."""
    tried = [i for i, (e, _) in enumerate(steps) if e is failed] or [len(steps) - 1]
    best: tuple[float, int, Array] | None = None
    for i in tried:
        motion = steps[i][1]
        path = at(motion, np.linspace(0.0, motion.duration, 200))
        apart = np.abs(path - q).max(axis=1)
        nearest = int(apart.argmin())
        if best is None or apart[nearest] < best[0]:
            best = (float(apart[nearest]), i, path[nearest])
    if best is None or best[0] > _ON_WAY:
        off = np.degrees(best[0]) if best is not None else 0.0
        raise NoWayError(
            f"the {failed.hand} arm stands {off:.1f} deg off the way of element {failed.number}; lead it "
            "clear by its own means, then go on with `run --from`"
        )
    return best[1], best[2]
