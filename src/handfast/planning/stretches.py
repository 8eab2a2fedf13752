"""Long sequences with both hands at once, one stretch after another: time and memory grow with the length,
not with its square."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from handfast.model.element import Element
from handfast.planning.overlap import MARGIN, AtOnce, at_once
from handfast.planning.replay import states_during
from handfast.planning.state import State
from handfast.planning.waits import Wait
from handfast.planning.workspace import Workspace

LONGEST = 150.0  # of the work of a hand in one stretch [s]


def in_stretches(ws: Workspace, start: State, elements: tuple[Element, ...]) -> AtOnce | None:
    """The elements with start times at which both hands work at once within each stretch, which begins when
    both hands are done with the one before and the timing margin is over. None if only one hand works, or if
    there is but one stretch and no timing for it."""
    cuts = list(_cuts(elements))
    if len(cuts) == 1:
        return at_once(ws, start, elements)
    if len({e.hand for e in elements}) != 2:
        return None
    states = states_during(start, elements)
    placed: list[Element] = []
    waits: dict[int, Wait] = {}
    for first, last in cuts:
        own = elements[first:last]
        found = at_once(ws, states[first], own) or _in_turn(own)
        base = len(placed)
        clock = max((e.start_s + e.duration_s for e in placed), default=-2 * MARGIN) + 2 * MARGIN
        begin = dict(_begin(placed, found.elements)) if placed else {}
        waits |= {base + k: w for k, w in begin.items()}
        waits |= {base + k: replace(w, place=base + w.place) for k, w in found.waits.items()}
        placed += [replace(e, start_s=clock + e.start_s) for e in found.elements]
    return AtOnce(tuple(placed), waits)


def _cuts(elements: tuple[Element, ...]) -> Iterator[tuple[int, int]]:
    """From where to where each stretch goes: between two mates, before a hand has too much to do."""
    first, begin = 0, 0  # of the stretch, of the mate
    done: dict[str, float] = {}
    mate: dict[str, float] = {}
    for k, e in enumerate(elements):
        if k and e.mate != elements[k - 1].mate:
            done = {h: done.get(h, 0.0) + mate.get(h, 0.0) for h in done | mate}
            begin, mate = k, {}
        mate[e.hand] = mate.get(e.hand, 0.0) + e.duration_s
        if first < begin and done.get(e.hand, 0.0) + mate[e.hand] > LONGEST:
            yield first, begin
            first, done = begin, {}
    yield first, len(elements)


def _in_turn(elements: tuple[Element, ...]) -> AtOnce:
    """One hand at a time, where no timing is found."""
    clock, out = 0.0, []
    for e in elements:
        out.append(replace(e, start_s=clock))
        clock += e.duration_s
    turns = {k: Wait("its turn", k - 1) for k in range(1, len(out)) if out[k].hand != out[k - 1].hand}
    return AtOnce(tuple(out), turns)


def _begin(before: list[Element], after: tuple[Element, ...]) -> Iterator[tuple[int, Wait]]:
    """Why the first element of either hand begins no sooner: the other hand has to be done."""
    for hand in {e.hand for e in after}:
        k = next(k for k, e in enumerate(after) if e.hand == hand)
        others = [i for i, e in enumerate(before) if e.hand != hand]
        if others:
            yield k, Wait("its turn", max(others, key=lambda i: before[i].start_s))
