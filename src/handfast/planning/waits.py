"""Why a hand stands still while both work at once: each element as soon as nothing forbids it, and what
forbids one step sooner."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast.model.element import WaitsFor
from handfast.motion.two_hands import Before, Cells

Steps = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Wait:
    """Why an element begins no sooner, and the place of the element that it waits for among all."""

    waits_for: WaitsFor
    place: int


def soonest(lengths: list[list[int]], starts: list[list[int]], closed: Cells) -> list[list[int]]:
    """Starts of both hands' elements [steps], each as much sooner as the open cells allow while all others
    stay; so none can begin a step sooner alone."""
    starts = [list(own) for own in starts]
    order = sorted((s, hand, k) for hand in (0, 1) for k, s in enumerate(starts[hand]))
    changed = True
    while changed:
        changed = False
        for _, hand, k in order:
            ready = starts[hand][k - 1] + lengths[hand][k - 1] if k else 0
            if ready < starts[hand][k]:
                sooner = _first_clear(lengths, starts, closed, hand, k, ready)
                if sooner is not None:
                    starts[hand][k], changed = sooner, True
    return starts


def _first_clear(
    lengths: list[list[int]], starts: list[list[int]], closed: Cells, hand: int, k: int, ready: int
) -> int | None:
    """The first step from `ready` on, before its start, at which an element could begin for `_blocked`; until
    then its hand stands where it does anyway."""
    steps, cells = lengths[hand][k], closed if hand == 0 else closed.T
    until = starts[hand][k] + steps
    theirs = _at(lengths[1 - hand], starts[1 - hand], np.arange(ready, until + 1))
    mine = sum(lengths[hand][:k]) + np.arange(steps + 1)
    waits_badly = np.logical_or.accumulate(cells[mine[-1], theirs][::-1])[::-1]  # at its end, from then on
    sooner = np.flatnonzero(~waits_badly[steps : until - ready])
    meanwhile = theirs[sooner[:, None] + np.arange(steps + 1)]
    bad = cells[mine, meanwhile]
    both = np.diff(meanwhile, axis=1) > 0
    bad[:, 1:] |= both & (cells[mine[:-1], meanwhile[:, 1:]] | cells[mine[1:], meanwhile[:, :-1]])
    clear = np.flatnonzero(~bad.any(axis=1))
    return ready + int(sooner[clear[0]]) if len(clear) else None


def in_the_way(
    lengths: list[list[int]], starts: list[list[int]], closed: Cells, hand: int, k: int
) -> int | None:
    """The element of the other hand that closes the way, were element k of a hand a step sooner: the one
    that it is in, or that leads it away from where it stands. None if nothing does."""
    blocked = _blocked(lengths, starts, closed, hand, k, starts[hand][k] - 1)
    if blocked is None:
        return None
    other = 1 - hand
    over = [s + n for s, n in zip(starts[other], lengths[other], strict=True)]
    return min(int(np.searchsorted(over, blocked, side="right")), len(over) - 1)


def waited_for(
    lengths: list[list[int]], starts: list[list[int]], before: list[Before], hand: int, k: int
) -> int | None:
    """The element of the other hand that has to come first, by the order of things, and ends last; None if a
    step sooner would keep to all of them."""
    ends = []
    for i, j, forwards, steps in before:
        early, late = (i, j) if forwards else (j, i)
        if late == k and forwards == (hand == 1):
            ends.append((starts[1 - hand][early] + steps, early))
    latest = max(ends, default=(0, 0))
    return latest[1] if latest[0] > starts[hand][k] - 1 else None


def _blocked(
    lengths: list[list[int]], starts: list[list[int]], closed: Cells, hand: int, k: int, start: int
) -> int | None:
    """The step at which the hands would be in a closed cell, or cut a closed corner, if this element began at
    `start`; None if they never would."""
    times = np.arange(start, starts[hand][k] + lengths[hand][k] + 1)
    base = sum(lengths[hand][:k])
    mine = base + np.clip(times - start, 0, lengths[hand][k])
    theirs = _at(lengths[1 - hand], starts[1 - hand], times)
    a, b = (mine, theirs) if hand == 0 else (theirs, mine)
    bad = closed[a, b]
    both = (np.diff(a) > 0) & (np.diff(b) > 0)
    bad[1:] |= both & (closed[a[:-1], b[1:]] | closed[a[1:], b[:-1]])
    return int(times[int(np.argmax(bad))]) if bad.any() else None


def _at(lengths: list[int], starts: list[int], times: Steps) -> Steps:
    """How far a hand has come in its own time at each of these steps."""
    begun = np.searchsorted(np.array(starts), times, side="right") - 1
    bases = np.concatenate([[0], np.cumsum(lengths)])
    inside = times - np.array(starts)[np.maximum(begun, 0)]
    gone = bases[np.maximum(begun, 0)] + np.minimum(inside, np.array(lengths)[np.maximum(begun, 0)])
    return np.asarray(np.where(begun < 0, 0, gone))
