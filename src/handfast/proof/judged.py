"""Pairs that stand still, as they stood when they were last judged: nothing has to be asked of them again."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from handfast.proof.allowances import Allowance
from handfast.proof.pieces_table import Index
from handfast.proof.stl import Array


class Judged:
    """Of each pair of a table where the one was as seen from the other, by what it was allowed to touch, and
    why it does, if it does. Only pairs that were clear are kept."""

    def __init__(self, pairs: int) -> None:
        self._where = np.full((pairs, 12), np.nan)
        self._allowed = np.zeros(pairs, dtype=np.int64)
        self._touches = np.zeros(pairs, dtype=bool)
        self._held: dict[int, tuple[tuple[Allowance, ...], str]] = {}

    def as_before(self, pairs: Index, where: Array, allowed: Index) -> NDArray[np.bool_]:
        """Which of the pairs (m,) are where they were, (m, 12), and allowed what they were (m,): see
        `Scan.allowed_as`."""
        same = (self._where[pairs] == where).all(axis=1)
        return np.asarray(same & (self._allowed[pairs] == allowed))

    def keep(self, pair: int, where: Array, allowances: tuple[Allowance, ...], reason: str | None) -> None:
        """One that was judged; reason: why it touches, nothing if it does not, None for one that is not
        clear."""
        self._where[pair] = np.nan if reason is None else where
        self._touches[pair] = bool(reason)
        self._held[pair] = allowances, reason or ""  # held, so that nothing else comes to have its number
        self._allowed[pair] = number_of(allowances)

    def touching(self, pairs: Index) -> Iterator[tuple[int, str]]:
        """Those of the pairs that touch, and why."""
        for pair in pairs[self._touches[pairs]].tolist():
            yield pair, self._held[pair][1]


def number_of(allowances: tuple[Allowance, ...]) -> int:
    """A number that no other allowances have as long as these are held; 0 for none."""
    return id(allowances) if allowances else 0
