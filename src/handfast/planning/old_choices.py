"""How a unit was done in an earlier chart: what is tried first where it has to be planned anew."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import groupby

import numpy as np

from handfast.kinematics.forward import forward
from handfast.model.element import Element
from handfast.model.grasp import Grasp
from handfast.model.motion import Motion
from handfast.planning.differing import Differing
from handfast.planning.hand import Hand
from handfast.planning.state import State
from handfast.spatial.se3 import Array

_SAME = 1e-8  # grip poses that differ by less are the same [m, 1]
_JOINTS = 1e-9  # [rad]


class OldChoices:
    """Grasps, lines and free ways of one unit, each motion with the state of then while it ran. differing:
    between a state of then and one of now, while a hand moves, as `Comparison.differing`."""

    def __init__(
        self, hands: Mapping[str, Hand], differing: Callable[[State, State, str], Differing | None]
    ) -> None:
        self._hands, self.differing = hands, differing
        self._elements: tuple[Element, ...] = ()
        self._during: list[State] = []
        self._runs: dict[str, list[_Run]] = {}

    def of(self, elements: tuple[Element, ...], during: list[State]) -> None:
        """From now on those of the unit that these elements did; during: the state while each ran."""
        self._elements, self._during, self._runs = elements, during, {}

    def first(self, hand: str, item: str, every: tuple[Grasp, ...]) -> tuple[int, ...]:
        """Which of all grasps of an item to look at, in order: the one nearest to how it was held comes
        first, on the same features of the item."""
        order, old = tuple(range(len(every))), self._grasp(hand, item)
        like = [k for k in order if old is not None and every[k].features == old.features]
        if old is None or not like:
            return order
        was = old.T_grip_part.matrix
        nearest = min(like, key=lambda k: (float(np.abs(every[k].T_grip_part.matrix - was).max()), k))
        return (nearest, *(k for k in order if k != nearest))

    def _grasp(self, hand: str, item: str) -> Grasp | None:
        return next((e.grasp for e in self._elements if (e.hand, e.object) == (hand, item) and e.grasp), None)

    def lines(self, hand: str, grips: list[Array]) -> tuple[tuple[Motion, ...], State] | None:
        """The lines through these grip poses, one after another, as they were driven, and the state on the
        first of them; None if they were not."""
        through, count = np.array(grips), len(grips) - 1
        for run in self._lines(hand):
            for k in range(len(run.motions) - count + 1):
                if np.abs(run.grips[k : k + len(grips)] - through).max() <= _SAME:
                    return run.motions[k : k + count], self._during[run.elements[k]]
        return None

    def way(self, hand: str, start: Array, goal: Array) -> tuple[Motion, State] | None:
        """The free way between two postures (n,) as it was driven, or None."""
        for i, e in enumerate(self._elements):
            for m in e.motions if e.hand == hand else ():
                if m.path == "free" and _same(m.q[0], start) and _same(m.q[-1], goal):
                    return m, self._during[i]
        return None

    def _lines(self, hand: str) -> list[_Run]:
        if hand not in self._runs:
            own = [(m, i) for i, e in enumerate(self._elements) if e.hand == hand for m in e.motions]
            lines = [tuple(some) for path, some in groupby(own, lambda one: one[0].path) if path == "line"]
            self._runs[hand] = [_Run(self._hands[hand], some) for some in lines]
        return self._runs[hand]


def grasps_in_order(
    old: OldChoices | None, hand: str, item: str, every: tuple[Grasp, ...]
) -> tuple[int, ...]:
    """In which order to look at the grasps of an item, all of them."""
    return tuple(range(len(every))) if old is None else old.first(hand, item, every)


def driven_first(old: OldChoices | None, hand: str, stations: list[list[Array]]) -> list[list[Array]]:
    """Stations, each its grip poses, in the order to try them: those with lines of before come first."""
    return stations if old is None else sorted(stations, key=lambda grips: old.lines(hand, grips) is None)


class _Run:
    """Lines that follow one another, each with the place of its element; grips: the pose at the beginning of
    the first and at the end of each."""

    def __init__(self, hand: Hand, lines: tuple[tuple[Motion, int], ...]) -> None:
        motions = self.motions = tuple(m for m, _ in lines)
        self.elements = tuple(i for _, i in lines)
        self.grips = forward(hand.chain, [motions[0].q[0], *(m.q[-1] for m in motions)]) @ hand.mount


def _same(a: tuple[float, ...], b: Array) -> bool:
    return bool(np.abs(a - b).max() <= _JOINTS)
