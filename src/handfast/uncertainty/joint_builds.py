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

from handfast.model.error_source import ErrorSource
from handfast.model.ledger import Band
from handfast.spatial.se3 import Array
from handfast.uncertainty.assemblable import Together
from handfast.uncertainty.drawn_mate import DrawnMate, Effects, Flags, Lies, with_play
from handfast.uncertainty.draws_matrix import Column, DrawsMatrix, draws_matrix, unit_block
from handfast.uncertainty.few_draws import few_draws
from handfast.uncertainty.judge import Question
from handfast.uncertainty.left_in_play import LeftInPlay
from handfast.uncertainty.sources import Sources

BUILDS = 20_480
_BLOCK = 4096


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
    good = np.zeros((2, 2, len(mates), BUILDS), dtype=bool)
    if not mates:
        return good
    seed = int.from_bytes(hashlib.sha256(f"joint builds {seed_text}".encode()).digest()[:8], "big")
    drawn = _prepared(mates, mates[0].question.sources)
    for start in range(0, BUILDS, _BLOCK):
        rng = np.random.default_rng([seed, start])
        unit = drawn.unit(rng, _BLOCK)
        sizes = rng.standard_normal((len(mates), _BLOCK), dtype=np.float32)
        touched, bare = (with_play(unit, each, sizes) for each in drawn.lies)
        for i, mate in enumerate(drawn.mates):
            good[:, :, i, start : start + _BLOCK] = mate.good(touched, bare, rng)
    return good


@dataclass(frozen=True, eq=False, slots=True)
class _Prepared:
    """sources: of the draws that are made as they are; others: how many normal ones come after them; lies:
    with touches and without."""

    sources: tuple[ErrorSource, ...]
    others: int
    mates: tuple[DrawnMate, ...]
    lies: tuple[tuple[Lies, ...], tuple[Lies, ...]]

    def unit(self, rng: np.random.Generator, count: int) -> NDArray[np.float32]:
        """Draws (c, count)."""
        return unit_block(self.sources, rng, count, self.others)


def _prepared(mates: Sequence[Asked], sources: Sources) -> _Prepared:
    """What is asked of all mates, from as few draws as can be."""
    lefts = [[x for x in side if x is not None] for side in
             ([m.left for m in mates], [m.bare_left for m in mates])]  # fmt: skip
    pushed = [[draws_matrix([left.pushed], sources) for left in side] for side in lefts]
    columns = _columns(mates, [p for side in pushed for p in side])
    index = {column: i for i, column in enumerate(columns)}
    questions = [
        Effects.of(q)
        for m in mates
        for q in ((m.question,) if m.bare is m.question else (m.question, m.bare))
    ]
    blocks = [_spread_out(q.few, q.asked.draws.columns, index) for q in questions]
    # What a part is pushed to is told against its clearance.
    blocks += [
        _spread_out(p.matrix / max(left.middle, left.sigma, 1e-9), p.columns, index)
        for side, found in zip(lefts, pushed, strict=True)
        for left, p in zip(side, found, strict=True)
    ]
    few = few_draws(np.vstack(blocks), _normal(mates, columns, index, lefts))
    at = iter(np.split(few.effects, np.cumsum([len(b) for b in blocks])[:-1]))
    reduced = {id(q.asked): q.reduced(next(at)) for q in questions}
    place = {int(column): i for i, column in enumerate(few.kept)}
    lies = tuple(
        tuple(
            Lies(
                left, (next(at) * max(left.middle, left.sigma, 1e-9)).astype(np.float32),
                tuple(place.get(index.get((left.play, f), -1), -1) for f in left.freedoms),
            )
            for left in side
        )
        for side in lefts
    )  # fmt: skip
    made = tuple(
        DrawnMate(
            reduced[id(m.question)], reduced[id(m.bare)], m.together,
            np.array([place[index[c]] for c in _together_columns(m)], dtype=np.intp), m.besides,
        )
        for m in mates
    )  # fmt: skip
    of = tuple(sources.by_name[columns[i][0].source] for i in few.kept)
    return _Prepared(of, few.effects.shape[1] - len(few.kept), made, (lies[0], lies[1]))


def _columns(mates: Sequence[Asked], pushed: Sequence[DrawsMatrix]) -> list[Column]:
    found: set[Column] = {c for p in pushed for c in p.columns}
    for mate in mates:
        found.update(mate.question.draws.columns, mate.bare.draws.columns, _together_columns(mate))
    return sorted(found)


def _together_columns(mate: Asked) -> tuple[Column, ...]:
    return () if mate.together is None else mate.together.draws.columns


def _spread_out(matrix: Array, columns: Sequence[Column], index: dict[Column, int]) -> Array:
    """Rows over all columns from rows over some."""
    out = np.zeros((len(matrix), len(index)))
    out[:, [index[c] for c in columns]] = matrix
    return out


def _normal(
    mates: Sequence[Asked], columns: Sequence[Column], index: dict[Column, int], lefts: list[list[LeftInPlay]]
) -> NDArray[np.bool_]:
    """Columns that every question counts as normal, and that stand for no play and no place of a feature that
    is asked for by itself."""
    normal = np.ones(len(columns), dtype=bool)
    for mate in mates:
        for asked in (mate.question, mate.bare):
            normal[[index[c] for c in asked.draws.columns]] &= asked.normal
        normal[[index[c] for c in _together_columns(mate)]] = False
    plays = [(left.play, f) for side in lefts for left in side for f in left.freedoms]
    normal[[index[p] for p in plays if p in index]] = False
    return normal


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
