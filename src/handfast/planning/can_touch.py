"""Whether a touch can be made where a chart stands just before a mate: asked before it is demanded."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.mate import Mate
from handfast.model.project import Project
from handfast.model.touch import Touch
from handfast.planning.failure import Failure
from handfast.planning.state import State
from handfast.planning.stream import stream
from handfast.planning.touch_move import touch_arrivals
from handfast.planning.workspace import Workspace, make_workspace


def can_touch(project: Project, chart: Chart, seed: int) -> Callable[[Mate, Touch], bool]:
    """Answers for one chart: true if the hand finds a way to the touch and back from where it stands
    before the mate.
    """
    ws = make_workspace(project)
    states: dict[str, tuple[State, str] | None] = {}
    known: dict[tuple[str, Touch], bool] = {}

    def usable(mate: Mate, touch: Touch) -> bool:
        if mate.name not in states:
            states[mate.name] = _before_home(ws, chart, mate)
        there = states[mate.name]
        if there is None:
            return False
        if (mate.name, touch) not in known:
            ways = touch_arrivals(ws, *there, mate, touch, stream(seed, mate.name))
            known[mate.name, touch] = any(not isinstance(way, Failure) for way in ways)
        return known[mate.name, touch]

    return usable


def _before_home(ws: Workspace, chart: Chart, mate: Mate) -> tuple[State, str] | None:
    """How things stand where the hand sets out to take the part home, and that hand."""
    elements = chart.elements
    last = next((i for i, e in enumerate(elements) if e.mate == mate.name and _brings_home(e, mate)), None)
    if last is None:
        return None
    hand, leaving = elements[last].hand, last
    for i in reversed(range(last)):
        if elements[i].hand == hand:
            if elements[i].kind not in ("move", "position"):
                break
            leaving = i
    state = ws.start()
    for element in elements[:leaving]:
        state = _after(state, element)
    # A move may begin with a lift from where the part was taken; the touch comes after it.
    motions = elements[leaving].motions
    return (state.moved(hand, np.array(motions[-1].q[0])) if motions else state), hand


def _brings_home(element: Element, mate: Mate) -> bool:
    if element.kind == "assemble":
        return element.object == mate.part
    return (
        element.kind == "use" and element.leaves is not None and element.leaves.parent == f"part.{mate.into}"
    )


def _after(state: State, element: Element) -> State:
    if element.motions:
        state = state.moved(element.hand, np.array(element.motions[-1].q[-1]))
    if element.opening is not None:
        state = state.opened(element.hand, element.opening)
    grasp, leaves = element.grasp, element.leaves
    if grasp is not None:
        state = state.opened(element.hand, grasp.width)
        state = state.attached(grasp.item, f"hand.{element.hand}", grasp.T_grip_part.matrix)
    if leaves is not None and not leaves.parent.startswith("hand."):
        state = state.attached(leaves.item, leaves.parent, leaves.pose.matrix)
    return state
