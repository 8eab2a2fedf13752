"""One mate of the builds that are drawn together: whether its part goes in, and where contact leaves it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast.spatial.se3 import Array
from handfast.uncertainty.assemblable import Together, can_go, size_nodes
from handfast.uncertainty.judge import Question
from handfast.uncertainty.left_in_play import LeftInPlay
from handfast.uncertainty.requirement import End

Flags = NDArray[np.bool_]
_ENDS: tuple[End, End] = ("low", "high")


@dataclass(frozen=True, eq=False, slots=True)
class Effects:
    """Of one question: fan (2 k, r), few (r, c) with fan @ few its rows, lengths in units of the largest
    radius; columns (c,)."""

    asked: Question
    fan: Array
    few: Array
    scale: Array

    @staticmethod
    def of(asked: Question) -> Effects:
        """What the draws of a question do, in as few rows as they span."""
        scale = np.maximum(np.array([r.radii.max() for r in asked.asked]), 1e-15)
        rows = asked.rows / np.repeat(scale, 2)[:, None]
        squared, axes = np.linalg.eigh(rows @ rows.T)
        fan = axes[:, squared > 1e-14 * max(float(squared.max(initial=0.0)), 1e-300)]
        return Effects(asked, fan, fan.T @ rows, scale)

    def reduced(self, few: Array) -> Reduced:
        """The same from `few` (r, k): of the draws that are made."""
        mean = self.asked.mean / np.repeat(self.scale, 2)
        single = np.float32
        return Reduced(
            self.asked, self.fan.astype(single), few.astype(single), mean.astype(single), self.scale
        )  # fmt: skip


@dataclass(frozen=True, eq=False, slots=True)
class Reduced:
    """A question's requirements, lengths in units of the largest radius: error = fan @ few @ unit + mean."""

    asked: Question
    fan: NDArray[np.float32]
    few: NDArray[np.float32]
    mean: NDArray[np.float32]
    scale: Array

    def within(self, unit: NDArray[np.float32], nodes: list[NDArray[np.intp]]) -> Flags:
        """(end, n): whether every requirement of an end holds."""
        asked = self.asked
        error = self.fan @ (self.few @ unit)
        error += self.mean[:, None]
        for i, requirement in enumerate(asked.asked):
            if requirement.period > 0:
                p = np.float32(requirement.period / self.scale[i])
                error[2 * i] -= p * np.round(error[2 * i] / p)
        error *= error
        off = error[::2] + error[1::2]
        inside = np.empty(off.shape, dtype=bool)
        for i, requirement in enumerate(asked.asked):
            sizes = ((requirement.radii / self.scale[i]) ** 2).astype(np.float32)
            limit = sizes[nodes[int(asked.of[i])]] if len(sizes) > 1 else sizes[0]
            np.less_equal(off[i], limit, out=inside[i])
        return np.array([inside[asked.members(end)].all(axis=0) for end in _ENDS])


@dataclass(frozen=True, eq=False, slots=True)
class DrawnMate:
    """What is asked of one mate. drawn: of `together`, the rows of unit draws that it hangs on; besides:
    chance of all else, at the sure end and the other."""

    with_touches: Reduced
    without: Reduced
    together: Together | None
    drawn: NDArray[np.intp]
    besides: tuple[float, float]

    def good(self, unit: NDArray[np.float32], bare: NDArray[np.float32], rng: np.random.Generator) -> Flags:
        """(touches or not, end, n): whether the part goes in, for unit draws (c, n) of builds with touches
        and without."""
        count = unit.shape[1]
        nodes = [_nodes(w, rng, count) for w in self.with_touches.asked.weights]
        out = np.empty((2, 2, count), dtype=bool)
        out[0] = self.with_touches.within(unit, nodes)
        alike = self.without is self.with_touches and bare is unit
        out[1] = out[0] if alike else self.without.within(bare, nodes)
        if self.together is not None:
            off = unit[self.drawn].T.astype(np.float64) @ self.together.draws.matrix.T
            out &= can_go(self.together, off, size_nodes(self.together, rng, count))
        if min(self.besides) < 1:
            out &= rng.random(count) < np.array(self.besides)[:, None]
        return out


@dataclass(frozen=True, eq=False, slots=True)
class Lies:
    """How a part comes to lie in its play. matrix (k, c): the offsets it is pushed to, from unit draws; play:
    the rows of unit draws that stand for where it lies, -1 where nothing asks for one."""

    left: LeftInPlay
    matrix: NDArray[np.float32]
    play: tuple[int, ...]


def with_play(
    unit: NDArray[np.float32], lies: Sequence[Lies], sizes: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Unit draws (c, n) with those of the plays as the builds make them, mate after mate."""
    out = unit.copy()
    for i, each in enumerate(lies):
        if max(each.play, default=-1) < 0:
            continue
        pushed = each.matrix @ out
        pushed += each.left.pushed.mean.astype(np.float32)[:, None]
        drawn = each.left.unit(pushed, sizes[i])
        for row, values in zip(each.play, drawn, strict=True):
            if row >= 0:
                out[row] = values
    return out


def _nodes(weights: tuple[float, ...], rng: np.random.Generator, count: int) -> NDArray[np.intp]:
    drawn, node = rng.random(count, dtype=np.float32), np.zeros(count, dtype=np.intp)
    for below in np.cumsum(weights)[:-1]:
        node += drawn > below
    return node
