"""Which unit comes before which, as literals for the constraint solver."""

from __future__ import annotations

from collections.abc import Iterator
from heapq import heapify, heappop, heappush

from handfast.planning.sat import Literal, Sat, Solution, negated


class Order:
    """Units in places, which they may share. A pair is written down when it is first asked for."""

    def __init__(self, sat: Sat, file: dict[str, int]) -> None:
        """file: the place of each unit in the file."""
        self._sat, self._file = sat, file
        self._place = {name: sat.integer(0, len(file) - 1) for name in file}
        self._first: dict[tuple[str, str], Literal] = {}

    @property
    def written(self) -> set[tuple[str, str]]:
        """The pairs that are written down, each as in the file."""
        return set(self._first)

    def in_file(self) -> Iterator[tuple[str, str]]:
        """The same in the order of the file."""
        yield from sorted(self._first, key=lambda p: (self._file[p[0]], self._file[p[1]]))

    def earlier(self, a: str, b: str) -> Literal:
        """That a comes before b."""
        if self._file[b] < self._file[a]:
            return negated(self.earlier(b, a))
        if (a, b) not in self._first:
            first = self._sat.boolean()
            self._sat.less(self._place[a], self._place[b], first, or_equal=True)
            self._sat.less(self._place[b], self._place[a], negated(first))
            self._first[a, b] = first
        return self._first[a, b]

    def inversions(self) -> int:
        """A new integer variable: at least the pairs out of order of those that are written down, and half of
        what all units together are away from their places in the file, which is no more than all pairs that
        are out of order (Diaconis and Graham 1977, from memory).
        """
        most = len(self._file) ** 2
        count = self._sat.integer(0, most)
        self._sat.at_least([(count, 1), *((first, 1) for first in self._first.values())], len(self._first))
        away = []
        for name, at in self._file.items():
            d = self._sat.integer(0, len(self._file))
            self._sat.at_least([(d, 1), (self._place[name], 1)], at)
            self._sat.at_least([(d, 1), (self._place[name], -1)], -at)
            away.append(d)
        self._sat.at_least([(count, 2), *((d, -1) for d in away)], 0)
        return count

    def of(self, found: Solution) -> list[str]:
        """The units in order: as the pairs that are written down have it, and else as in the file."""
        later: dict[str, list[str]] = {name: [] for name in self._file}
        waits = dict.fromkeys(self._file, 0)
        for (a, b), first in self._first.items():
            one, other = (a, b) if found.true(first) else (b, a)
            later[one].append(other)
            waits[other] += 1
        ready = [(place, name) for name, place in self._file.items() if not waits[name]]
        heapify(ready)
        out = []
        while ready:
            out.append(heappop(ready)[1])
            for name in later[out[-1]]:
                waits[name] -= 1
                if not waits[name]:
                    heappush(ready, (self._file[name], name))
        return out
