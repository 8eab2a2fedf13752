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

_ROUNDING = STEP + 1e-9  # what the time grid adds to an element at most [s]
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
    end = max(map(_end, timed))
    return tuple(
        sorted(
            (e for mine in own for e in _closed_up([timed[k] for k in mine], end)), key=lambda e: e.start_s
        )
    )


def _end(e: Element) -> float:
    return e.start_s + e.duration_s


def _closed_up(own: list[Element], end: float) -> list[Element]:
    """The elements of one hand, each that follows another within a step of the grid begun at once: it waits
    out the rounding itself, and moves when it would have. So does the last, where the chart ends so soon."""
    out: list[Element] = []
    for e in own:
        gap = e.start_s - _end(out[-1]) if out else 0.0
        if 0.0 < gap <= _ROUNDING and e.strategy is None:
            start, waits = e.start_s - gap, e.before_s + gap
            out.append(replace(e, start_s=start, duration_s=e.duration_s + gap, before_s=waits))
        else:
            out.append(e)
    if 0.0 < end - _end(out[-1]) <= _ROUNDING:
        out[-1] = replace(out[-1], duration_s=end - out[-1].start_s)
    return out


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
