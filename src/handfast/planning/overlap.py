"""Both hands at once: the quickest timing of a sequence in which the arms never meet."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from handfast.model.element import Element, WaitsFor
from handfast.motion.two_hands import Before, Cells, closed_before, quickest, with_margin
from handfast.planning.meetings import STEP, meetings
from handfast.planning.precedences import done_first, precedences, shared
from handfast.planning.replay import states_during
from handfast.planning.state import State
from handfast.planning.waits import Wait, in_the_way, soonest, waited_for
from handfast.planning.workspace import Workspace

_ROUNDING = STEP + 1e-9  # what the time grid adds to an element at most [s]
MARGIN = 0.1  # either hand may be this early or late [s]


@dataclass(frozen=True, slots=True)
class AtOnce:
    """elements with their start times, in order of these; waits: why one of them, by its place among these,
    begins no sooner."""

    elements: tuple[Element, ...]
    waits: dict[int, Wait]


def at_once(ws: Workspace, start: State, elements: tuple[Element, ...]) -> AtOnce | None:
    """The elements with start times at which both hands work at once, as soon as they can; None if only one
    hand works or no timing is found on this grid. The order of each hand's own elements stays."""
    hands = list(dict.fromkeys(e.hand for e in elements))
    if len(hands) != 2:
        return None
    states = states_during(start, elements)
    own = [[k for k, e in enumerate(elements) if e.hand == hand] for hand in hands]
    grids = [_on_grid([elements[k].duration_s for k in mine]) for mine in own]
    lengths = [steps for steps, _ in grids]
    before = precedences(ws, elements, states, own, lengths)
    closed = closed_before(lengths[0], lengths[1], before)
    met = meetings(ws, elements, states, own, hands, lengths, ~closed)
    met = with_margin(met, round(MARGIN / STEP) + 1) & ~_known_clear(own, lengths)
    schedule = quickest(lengths[0], lengths[1], closed | met)
    if schedule is None:
        return None
    begun = soonest(lengths, [list(schedule.first), list(schedule.second)], closed | met)

    def why(early: int, late: int) -> WaitsFor:
        return _order(ws, elements[early], elements[late], shared(ws, elements, states, early, late))

    waits = dict(_waits(own, lengths, begun, before, met, why))
    starts: dict[int, float] = {}
    for mine, begins, (_, ahead) in zip(own, begun, grids, strict=True):
        starts |= {k: b * STEP - a for k, b, a in zip(mine, begins, ahead, strict=True)}
    _in_turn(elements, own, before, starts)
    timed = [replace(e, start_s=starts[k]) for k, e in enumerate(elements)]
    end = max(map(_end, timed))
    placed = [
        (k, e) for mine in own for k, e in zip(mine, _closed_up([timed[k] for k in mine], end), strict=True)
    ]
    placed.sort(key=lambda one: one[1].start_s)
    place = {k: i for i, (k, _) in enumerate(placed)}
    told = {place[k]: replace(w, place=place[w.place]) for k, w in waits.items()}
    return AtOnce(tuple(e for _, e in placed), told)


def _waits(
    own: list[list[int]],
    lengths: list[list[int]],
    starts: list[list[int]],
    before: list[Before],
    met: Cells,
    why: Callable[[int, int], WaitsFor],
) -> Iterator[tuple[int, Wait]]:
    """For each element that begins later than its hand's own before it has ended: why."""
    for hand in (0, 1):
        for k, start in enumerate(starts[hand]):
            if start <= (starts[hand][k - 1] + lengths[hand][k - 1] if k else 0):
                continue
            first = waited_for(lengths, starts, before, hand, k)
            if first is not None:
                early = own[1 - hand][first]
                yield own[hand][k], Wait(why(early, own[hand][k]), early)
                continue
            meets = in_the_way(lengths, starts, met, hand, k)
            if meets is not None:
                yield own[hand][k], Wait("the other hand to make way", own[1 - hand][meets])


def _order(ws: Workspace, one: Element, two: Element, both: set[str]) -> WaitsFor:
    """Why an element comes after one of the other hand; both: what they both handle."""
    tools = {t.name for t in ws.project.cell.tools}
    if any(e.target.startswith("hand.") for e in (one, two)) or any(t.startswith("hand.") for t in both):
        return "the handover"
    if {t.removeprefix("tool.") for t in both} & tools:
        return "the tool"
    if done_first(ws.project.product, one, two) or (
        one.kind in ("assemble", "use") and one.mate != two.mate and both
    ):
        return "a mate before it"
    if any(t.startswith("place.") for t in both):
        return "the place"
    if one.object in both or two.object in both:
        return "the part"
    return "the other hand to make way"


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


def _on_grid(durations: list[float]) -> tuple[list[int], list[float]]:
    """One hand's elements on the grid: the steps of each, at least one, and how long before its step each
    begins [s]: less than a step, so that no rounding adds up."""
    lengths, early = [], []
    done, clock = 0, 0.0
    for duration in durations:
        early.append(done * STEP - clock)
        clock += duration
        steps = max(1, int(np.ceil(clock / STEP - 1e-6)) - done)
        done += steps
        lengths.append(steps)
        clock = max(clock, (done - 1) * STEP + 1e-6)
    return lengths, early


def _in_turn(
    elements: tuple[Element, ...], own: list[list[int]], before: list[Before], starts: dict[int, float]
) -> None:
    """Put start times off, by less than a step, until the hand's own element before and what it waits for are
    over."""
    waits: dict[int, list[tuple[int, bool]]] = {b: [(a, True)] for mine in own for a, b in pairwise(mine)}
    for i, j, forwards, steps in before:
        early, late = (own[0][i], own[1][j]) if forwards else (own[1][j], own[0][i])
        whole = elements[early].kind != "release" or steps * STEP > elements[early].before_s + STEP
        waits.setdefault(late, []).append((early, whole))
    for k in sorted(starts, key=lambda k: (starts[k], k)):
        for i, whole in waits.get(k, []):
            lasts = elements[i].duration_s if whole else elements[i].before_s
            starts[k] = max(starts[k], starts[i] + lasts)


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
