"""The state during each element of a sequence, from the elements alone."""

from __future__ import annotations

import numpy as np

from handfast.model.element import Element
from handfast.planning.pick import closed_on
from handfast.planning.state import State


def states_during(start: State, elements: tuple[Element, ...]) -> tuple[State, ...]:
    """The state while each element's motions run: jaws as its opening says, the scene as the elements before
    left it. What an element attaches or lets go counts from the next one on, except that a release lets go
    before its motions."""
    state, out = start, []
    for e in elements:
        out.append(during(state, e))
        state = after(out[-1], e)
    return tuple(out)


def during(before: State, e: Element) -> State:
    """The state while the motions of one element run."""
    state = before if e.opening is None else before.opened(e.hand, e.opening)
    if e.kind == "release" and e.leaves is not None:
        state = state.attached(e.object, e.leaves.parent, e.leaves.pose.matrix)
    return state


def after(meanwhile: State, e: Element) -> State:
    """The state that one element leaves, from that during its motions."""
    state = meanwhile
    if e.grasp is not None:
        state = closed_on(state, e.hand, e.object, e.grasp)
    elif e.leaves is not None and e.kind != "release":
        state = state.attached(e.object, e.leaves.parent, e.leaves.pose.matrix)
    return state.moved(e.hand, np.array(e.motions[-1].q[-1])) if e.motions else state
