"""Where two arms, with what they hold, would come too close, in the plane of the two hands' own times."""

from __future__ import annotations

import numpy as np

from handfast import _kernel
from handfast.model.element import Element
from handfast.motion.timing import at
from handfast.motion.two_hands import Cells
from handfast.planning.course import Course
from handfast.planning.state import State
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

STEP = 0.02  # of the time grid [s]
_MOST = 4000  # courses are kept; they take 20 to 100 kB each


def meetings(
    ws: Workspace,
    elements: tuple[Element, ...],
    states: tuple[State, ...],
    own: list[list[int]],
    hands: list[str],
    lengths: list[list[int]],
    open_: Cells,
) -> Cells:
    """Cells in which the arms, with what they hold, would come closer than the free-space clearance, except
    where the sequence brings them together on purpose (a handover, a tool at a held part). Looked at only
    where two elements have a cell that is `open_` to other rules."""
    courses = [_courses(ws, elements, states, own[k], hands[k], lengths[k]) for k in (0, 1)]
    met = np.zeros_like(open_)
    rows = np.concatenate([[0], np.cumsum(lengths[0])])
    columns = np.concatenate([[0], np.cumsum(lengths[1])])
    for i, one in enumerate(courses[0]):
        for j, other in enumerate(courses[1]):
            block = np.s_[rows[i] : rows[i + 1] + 1, columns[j] : columns[j + 1] + 1]
            if open_[block].any():
                met[block] |= one.meets(other, ws.margin)
    return met


def _courses(
    ws: Workspace,
    elements: tuple[Element, ...],
    states: tuple[State, ...],
    mine: list[int],
    hand: str,
    lengths: list[int],
) -> list[Course]:
    """The course of each element of a hand. Sequences that are timed one after another have most of theirs in
    common."""
    if len(ws.courses) > _MOST:
        ws.courses.clear()
    out = []
    for k, steps in zip(mine, lengths, strict=True):
        q, state = _samples(elements[k], states[k], hand, steps), states[k]
        load = tuple((name, T.tobytes()) for name, T in ws.carried(state, hand))
        key = (hand, state.widths[hand], load, q.tobytes())
        if key not in ws.courses:
            cover = ws.hand_cover(state, hand)
            way = np.concatenate([_kernel.travel(cover, q[:-1], q[1:]), [0.0]])
            ws.courses[key] = Course(cover, q, np.maximum(way, np.concatenate([[0.0], way[:-1]])))
        out.append(ws.courses[key])
    return out


def _samples(e: Element, state: State, hand: str, steps: int) -> Array:
    """Joint values at each step of an element, both ends included, (steps + 1, n)."""
    q = np.tile(state.q[hand], (steps + 1, 1))
    clock: Array = np.arange(steps + 1, dtype=np.float64) * STEP - e.before_s
    for motion in e.motions:
        moving = clock >= 0
        q[moving] = at(motion, clock[moving])
        clock = clock - motion.duration
    return q
