"""Instances of error sources, numbered for one chart: what error forms are sums over."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from handfast.spatial.se3 import Array

_NONE = np.zeros(0)
Places = frozenset[str]
Flags = NDArray[np.bool_]


class Instance(NamedTuple):
    """One draw of one error source. drawn: the element it was drawn in, "" if it holds for the build."""

    source: str
    drawn: str = ""


# Variances (6,) of one instance, its freedoms being independent of each other.
Variances = Callable[[Instance], Array]


class Draws:
    """The instances that the forms of one chart are made of, each with its six columns, in the order in which
    they came up. Only ever added to, so what a form says stays true.
    """

    def __init__(self) -> None:
        self.instances: list[Instance] = []
        self._at: dict[Instance, int] = {}
        # Where an instance came in is one bit of a form's `marks`.
        self._bits: dict[tuple[int, str], int] = {}
        self._marked: list[tuple[int, str]] = []
        self._of: list[int] = []
        self._order: list[int] = []
        self._squared: dict[Variances, tuple[Array, Flags]] = {}

    def at(self, instance: Instance) -> int:
        """The place of an instance among all; a new one comes last."""
        found = self._at.get(instance)
        if found is None:
            found = self._at[instance] = len(self.instances)
            self.instances.append(instance)
            self._of.append(0)
        return found

    def mark(self, at: int, place: str) -> int:
        """The bit that says that the instance came in at a place."""
        found = self._bits.get((at, place))
        if found is None:
            found = self._bits[at, place] = 1 << len(self._bits)
            self._marked.append((at, place))
            self._of[at] |= found
        return found

    def marks_of(self, at: int) -> int:
        """All bits of one instance."""
        return self._of[at]

    def places(self, marks: int) -> dict[Instance, Places]:
        """Where the marked instances came in."""
        found: dict[int, set[str]] = {}
        for bit in np.flatnonzero(_bits_of(marks)).tolist():
            at, place = self._marked[bit]
            found.setdefault(at, set()).add(place)
        return {self.instances[at]: frozenset(places) for at, places in found.items()}

    def in_order(self, count: int) -> list[int]:
        """The first instances by their names."""
        if len(self._order) < len(self.instances):
            self._order = sorted(range(len(self.instances)), key=self.instances.__getitem__)
        return [i for i in self._order if i < count]

    def squared(self, variances: Variances, wanted: Flags) -> Array:
        """Variances (6 n,) of the freedoms of the first n instances, of those that are wanted (n,)."""
        known, asked = self._squared.get(variances, (_NONE, np.zeros(0, dtype=bool)))
        if len(asked) < len(wanted):
            more = len(self.instances) - len(asked)
            known, asked = np.append(known, np.zeros(6 * more)), np.append(asked, np.zeros(more, dtype=bool))
            self._squared[variances] = known, asked
        missing = np.flatnonzero(wanted > asked[: len(wanted)])
        for i in missing.tolist():
            known[6 * i : 6 * i + 6] = variances(self.instances[i])
        asked[missing] = True
        return known[: 6 * len(wanted)]


def _bits_of(marks: int) -> NDArray[np.uint8]:
    packed = np.frombuffer(marks.to_bytes((marks.bit_length() + 7) // 8, "little"), dtype=np.uint8)
    return np.unpackbits(packed, bitorder="little")
