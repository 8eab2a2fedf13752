"""Ways to spoil a chart that holds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from tests.proof.chart_by_hand import with_element

from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.grasp import Grasp
from handfast.model.motion import Motion
from handfast.model.proof import Proof, Violation
from handfast.model.scene import Attachment


def of_kind(chart: Chart, kind: str, hand: str, item: str) -> Element:
    """The first such element."""
    return next(e for e in chart.elements if (e.kind, e.hand, e.object) == (kind, hand, item))


def grasp_of(element: Element) -> Grasp:
    """Its grasp, which is there."""
    assert element.grasp is not None
    return element.grasp


def leaves_of(element: Element) -> Attachment:
    """What it leaves, which is there."""
    assert element.leaves is not None
    return element.leaves


def until(chart: Chart, number: int) -> Chart:
    """The chart up to and with an element."""
    return replace(chart, elements=tuple(e for e in chart.elements if e.number <= number))


def renumbered(chart: Chart, elements: Sequence[Element]) -> Chart:
    """Those elements one after another, numbered anew."""
    now, out = 0.0, []
    for number, element in enumerate(elements, 1):
        out.append(replace(element, number=number, start_s=now))
        now += element.duration_s
    return replace(chart, elements=tuple(out), makespan_s=max(now, chart.makespan_s))


def with_motion(chart: Chart, number: int, index: int, change: Callable[[Motion], Motion]) -> Chart:
    """One motion of one element changed."""
    motions = list(chart.element(number).motions)
    motions[index] = change(motions[index])
    return with_element(chart, number, motions=tuple(motions))


def detour(chart: Chart, number: int, index: int, there: Motion, back: Motion) -> Chart:
    """A way there and back put in before a motion of an element; all later elements start later."""
    element = chart.element(number)
    motions = (*element.motions[:index], there, back, *element.motions[index:])
    more = there.duration + back.duration
    out = []
    for e in chart.elements:
        if e.number == number:
            out.append(replace(e, motions=motions, duration_s=e.duration_s + more))
        elif e.start_s >= element.start_s + element.duration_s - 1e-9:
            out.append(replace(e, start_s=e.start_s + more))
        else:
            out.append(e)
    return replace(chart, elements=tuple(out), makespan_s=chart.makespan_s + more)


def shifted(motion: Motion, joint: int, by: float) -> Motion:
    """A motion with one joint somewhere else all along."""
    step = np.zeros(len(motion.q[0]))
    step[joint] = by
    return replace(motion, q=tuple(tuple(float(x) for x in np.array(row) + step) for row in motion.q))


def faster(motion: Motion, times: float) -> Motion:
    """The same way in a shorter time; its knots agree as before."""
    return replace(
        motion,
        t=tuple(t / times for t in motion.t),
        v=tuple(tuple(x * times for x in row) for row in motion.v),
    )


def found(proof: Proof, kind: str, element: int, **more: Any) -> list[Violation]:
    """The violations of that kind in that element."""
    return [
        v
        for v in proof.violations
        if v.kind == kind and v.element == element and all(getattr(v, k) == x for k, x in more.items())
    ]
