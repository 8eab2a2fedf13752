"""Both hands at once: the quickest timing of a sequence in which the arms never meet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from handfast.model.element import Element
from handfast.motion.two_hands import Cells, closed_before, quickest, with_margin
from handfast.planning.meetings import STEP, meetings
from handfast.planning.precedences import precedences
from handfast.planning.replay import states_during
from handfast.planning.state import State
from handfast.planning.workspace import Workspace

MARGIN = 0.1  # either hand may be this early or late [s]


def at_once(ws: Workspace, start: State, elements: tuple[Element, ...]) -> tuple[Element, ...] | None:
    """The elements with start times at which both hands work at once, as soon as they can; None if only one
    hand works or no timing is found on this grid. The order of each hand's own elements stays."""
    hands = list(dict.fromkeys(e.hand for e in elements))
    if len(hands) != 2:
        return None
    states = states_during(start, elements)
    own = [[k for k, e in enumerate(elements) if e.hand == hand] for hand in hands]
    lengths = [[_steps(elements[k].duration_s) for k in mine] for mine in own]
    closed = closed_before(lengths[0], lengths[1], precedences(ws, elements, states, own))
    met = with_margin(meetings(ws, elements, states, own, hands, lengths), round(MARGIN / STEP))
    met &= ~_known_clear(own, lengths)
    schedule = quickest(lengths[0], lengths[1], closed | met)
    if schedule is None:
        return None
    begins = dict(zip(own[0], schedule.first, strict=True)) | dict(zip(own[1], schedule.second, strict=True))
    timed = [replace(e, start_s=begins[k] * STEP) for k, e in enumerate(elements)]
    return tuple(sorted(timed, key=lambda e: e.start_s))


def _steps(duration: float) -> int:
    """Steps that surely hold an element: what waits for its end never starts a rounding error too soon."""
    return int(np.ceil(duration / STEP + 1e-6))


def _known_clear(own: list[list[int]], lengths: list[list[int]]) -> Cells:
    """Cells that the search has checked exactly: one hand at work, the other where it stood then."""
    bounds = [np.concatenate([[0], np.cumsum(n)]) for n in lengths]
    clear = np.zeros((bounds[0][-1] + 1, bounds[1][-1] + 1), dtype=bool)
    done = [0, 0]
    for _, side in sorted((k, hand) for hand in (0, 1) for k in own[hand]):
        moving = slice(bounds[side][done[side]], bounds[side][done[side] + 1] + 1)
        still = bounds[1 - side][done[1 - side]]
        clear[(moving, still) if side == 0 else (still, moving)] = True
        done[side] += 1
    return clear
