"""Whole builds drawn together: the mates of a build share their errors, and so succeed and fail together.

A row's own chance is over all builds. What a trial can observe of a mate is only how it goes in builds in
which the mates before it went in; and the whole build comes out if all of them do. Both are counted here
over builds drawn once for all mates, at the sure end of every mate's band and at the other. Where a part
lies in the play of its fit follows from how it came in, build by build (left_in_play).
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from handfast.model.ledger import Band
from handfast.spatial.se3 import Array
from handfast.uncertainty.assemblable import Together, can_go, size_nodes
from handfast.uncertainty.draws_matrix import Column, draws_matrix, unit_block
from handfast.uncertainty.judge import Question
from handfast.uncertainty.left_in_play import LeftInPlay
from handfast.uncertainty.requirement import End
from handfast.uncertainty.sources import Sources

BUILDS = 20_480
_BLOCK = 4096
Flags = NDArray[np.bool_]
_ENDS: tuple[End, End] = ("low", "high")


@dataclass(frozen=True, eq=False, slots=True)
class Asked:
    """One mate in the joint builds. question: with its touches; bare: without any; together: of several
    pairs; left, bare_left: how contact leaves the part, with its touches and without any; besides: chance
    that all goes well which does not hang on where the part comes in, at the sure end and the other."""

    question: Question
    bare: Question
    together: Together | None
    left: LeftInPlay | None = None
    bare_left: LeftInPlay | None = None
    besides: tuple[float, float] = (1.0, 1.0)


@dataclass(frozen=True, slots=True)
class JointBands:
    """in_order: of each mate, given that those before it went in; whole: that all go in."""

    in_order: tuple[Band, ...]
    whole: Band


def joint_bands(
    mates: Sequence[Asked], dependent: Sequence[tuple[bool, bool]], seed_text: str
) -> tuple[JointBands, JointBands]:
    """With touches and without. dependent: whether each mate's band depends on the contact model, with
    touches and without; seed_text: equal texts give equal builds.
    """
    good = _drawn(mates, seed_text)
    return _bands(good[0], [d[0] for d in dependent]), _bands(good[1], [d[1] for d in dependent])


def _drawn(mates: Sequence[Asked], seed_text: str) -> NDArray[np.bool_]:
    """Which mates go in (touches or not, end, mate, build)."""
    seed = int.from_bytes(hashlib.sha256(f"joint builds {seed_text}".encode()).digest()[:8], "big")
    sources = mates[0].question.sources if mates else None
    columns = _columns(mates, sources)
    index = {column: i for i, column in enumerate(columns)}
    good = np.zeros((2, 2, len(mates), BUILDS), dtype=bool)
    prepared = [_prepared(m, index) for m in mates]
    lies = [[_Lies.of(left, sources, index) for left in side if left is not None and sources is not None]
            for side in ([m.left for m in mates], [m.bare_left for m in mates])]  # fmt: skip
    for start in range(0, BUILDS, _BLOCK):
        rng = np.random.default_rng([seed, start])
        block = slice(start, start + _BLOCK)
        if sources is None:
            break
        unit = unit_block([sources.by_name[key.source] for key, _ in columns], rng, _BLOCK)
        sizes = rng.standard_normal((len(mates), _BLOCK))
        touched, bare = (_with_play(unit, each, sizes) for each in lies)
        for i, mate in enumerate(prepared):
            good[:, :, i, block] = mate.good(touched, bare, rng)
    return good


def _columns(mates: Sequence[Asked], sources: Sources | None) -> list[Column]:
    found: set[Column] = set()
    for mate in mates:
        found.update(mate.question.draws.columns, mate.bare.draws.columns)
        if mate.together is not None:
            found.update(mate.together.draws.columns)
        if sources is not None:
            for left in (mate.left, mate.bare_left):
                found.update(() if left is None else draws_matrix([left.pushed], sources).columns)
    return sorted(found)


@dataclass(frozen=True, eq=False, slots=True)
class _Lies:
    """How a part comes to lie in its play. columns, matrix (k, c): the offsets it is pushed to, from unit
    draws; play: the rows of unit draws that stand for where it lies, -1 where nothing asks for one."""

    left: LeftInPlay
    columns: NDArray[np.intp]
    matrix: Array
    play: tuple[int, ...]

    @staticmethod
    def of(left: LeftInPlay, sources: Sources, index: dict[Column, int]) -> _Lies:
        draws = draws_matrix([left.pushed], sources)
        columns = np.array([index[c] for c in draws.columns], dtype=np.intp)
        play = tuple(index.get((left.play, freedom), -1) for freedom in left.freedoms)
        return _Lies(left, columns, draws.matrix, play)


def _with_play(unit: NDArray[np.float32], lies: list[_Lies], sizes: Array) -> NDArray[np.float32]:
    """Unit draws (c, n) with those of the plays as the builds make them, mate after mate."""
    out = unit.copy()
    for i, each in enumerate(lies):
        pushed = each.left.pushed.mean[:, None] + each.matrix @ out[each.columns]
        drawn = each.left.unit(pushed, sizes[i])
        for row, values in zip(each.play, drawn, strict=True):
            if row >= 0:
                out[row] = values
    return out


@dataclass(frozen=True, eq=False, slots=True)
class _Reduced:
    """A question's requirements, lengths in units of the largest radius: error = fan @ (few @ unit) + mean.

    columns: of all unit draws, those that `few` takes; few (r, c), r as small as can be; fan (2 k, r).
    """

    asked: Question
    columns: NDArray[np.intp]
    few: NDArray[np.float32]
    fan: NDArray[np.float32]
    mean: NDArray[np.float32]
    scale: Array

    def within(self, unit: NDArray[np.float32], nodes: list[NDArray[np.intp]]) -> Flags:
        """(end, n): whether every requirement of an end holds."""
        asked = self.asked
        error = self.fan @ (self.few @ unit[self.columns]) + self.mean[:, None]
        inside = np.empty((len(asked.asked), unit.shape[1]), dtype=bool)
        for i, requirement in enumerate(asked.asked):
            x, y = error[2 * i], error[2 * i + 1]
            if requirement.period > 0:
                p = np.float32(requirement.period / self.scale[i])
                x = x - p * np.round(x / p)
            sizes = ((requirement.radii / self.scale[i]) ** 2).astype(np.float32)
            limit = sizes[nodes[int(asked.of[i])]] if len(sizes) > 1 else sizes[0]
            inside[i] = x * x + y * y <= limit
        return np.array([inside[asked.members(end)].all(axis=0) for end in _ENDS])


def _reduced(asked: Question, index: dict[Column, int]) -> _Reduced:
    scale = np.maximum(np.array([r.radii.max() for r in asked.asked]), 1e-15)
    rows = asked.rows / np.repeat(scale, 2)[:, None]
    left, size, right = np.linalg.svd(rows, full_matrices=False)
    kept = size > 1e-9 * max(float(size.max(initial=0.0)), 1e-300)
    mean = asked.mean / np.repeat(scale, 2)
    columns = np.array([index[c] for c in asked.draws.columns], dtype=np.intp)
    few, fan = size[kept, None] * right[kept], left[:, kept]
    return _Reduced(
        asked, columns, few.astype(np.float32), fan.astype(np.float32), mean.astype(np.float32), scale
    )


@dataclass(frozen=True, eq=False, slots=True)
class _Prepared:
    with_touches: _Reduced
    without: _Reduced
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
        out[1] = self.without.within(bare, nodes)
        if self.together is not None:
            off = unit[self.drawn].T.astype(np.float64) @ self.together.draws.matrix.T
            out &= can_go(self.together, off, size_nodes(self.together, rng, count))
        if min(self.besides) < 1:
            out &= rng.random(count) < np.array(self.besides)[:, None]
        return out


def _nodes(weights: tuple[float, ...], rng: np.random.Generator, count: int) -> NDArray[np.intp]:
    return np.searchsorted(np.cumsum(weights)[:-1], rng.random(count))


def _prepared(mate: Asked, index: dict[Column, int]) -> _Prepared:
    touched = _reduced(mate.question, index)
    bare = touched if mate.bare is mate.question else _reduced(mate.bare, index)
    columns = mate.together.draws.columns if mate.together is not None else ()
    drawn = np.array([index[c] for c in columns], dtype=np.intp)
    return _Prepared(touched, bare, mate.together, drawn, mate.besides)


def _bands(good: Flags, dependent: list[bool]) -> JointBands:
    """Good (end, mate, build)."""
    before = np.ones((2, good.shape[2]), dtype=bool)
    bands = []
    for i in range(good.shape[1]):
        # What happens before may come out at either end; the band encloses both.
        seen = [[_share(good[end, i], before[given]) for given in (0, 1)] for end in (0, 1)]
        bands.append(Band(min(seen[0]), max(seen[1]), dependent[i]))
        before &= good[:, i]
    every = np.ones(good.shape[2], dtype=bool)
    whole = Band(_share(before[0], every), _share(before[1], every), any(dependent))
    return JointBands(tuple(bands), whole)


def _share(good: Flags, among: Flags) -> float:
    """Share of the builds marked in `among` that are good, half a build counted either way: so many draws
    cannot tell a chance from one or from nothing. No build at all: one half.
    """
    return float((np.count_nonzero(good & among) + 0.5) / (np.count_nonzero(among) + 1.0))


def enclosed(whole: Band, bounds: Band) -> Band:
    """A drawn band kept within what must hold whatever binds the mates together."""
    low = min(max(whole.low, bounds.low), bounds.high)
    return replace(whole, low=low, high=max(low, min(whole.high, bounds.high)))
