"""How likely a mate is to go in: all its conditions together, over everything that may be off."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from handfast.model.ledger import Band
from handfast.spatial.se3 import Array
from handfast.uncertainty.band import SHARE_LIMIT, reason_of
from handfast.uncertainty.condition import Condition, same_pair
from handfast.uncertainty.directional import LEAST_SIZE, Chords, Normal, directions, points, scaled_chords
from handfast.uncertainty.draws_matrix import DrawsMatrix, draws_matrix
from handfast.uncertainty.entry import Entry
from handfast.uncertainty.requirement import End, Requirement
from handfast.uncertainty.sources import Sources

# What is not normal is taken as it is from this share of a requirement's variance on; below, sums of many
# are normal (a choice, no source).
_NOT_SMALL = 0.03
# Normal cut beyond this many sigma counts as normal with the variance that is left.
_HARDLY_CUT = 2.5
_POINTS, _QUICK_POINTS = 4096, 1024
# A mate that fails less often gains nothing that a ledger would show, whatever is made better.
_TOLD = 1e-5
_ALL_ENDS: tuple[End, ...] = ("low", "goes in", "covered", "high")
Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, slots=True)
class Question:
    """asked: every requirement, and of: the index of its condition (k,); rows (2 k, c), mean (2 k,): from
    unit draws to what the requirements ask; draws: the raw deviation of the first pair (6 rows) and the
    touches' readings (r) from the same draws; shift (2 k, 6): what a twist of the part does to the rows;
    gain (6, r): taken back already; weights: of the sizes, by condition; normal (c,): columns that count as
    normal.
    """

    asked: tuple[Requirement, ...]
    of: NDArray[np.intp]
    rows: Array
    mean: Array
    draws: DrawsMatrix
    shift: Array
    gain: Array
    weights: tuple[tuple[float, ...], ...]
    normal: Flags
    sources: Sources

    def members(self, end: End, condition: int | None = None) -> Flags:
        """Which requirements belong to an end of the band (k,), of one condition or all."""
        marked = np.array([end in r.ends for r in self.asked], dtype=bool)
        return marked if condition is None else marked & (self.of == condition)


@dataclass(frozen=True, eq=False, slots=True)
class Judgement:
    """band: that all conditions hold; reason: why it depends on the model, "" if not."""

    band: Band
    reason: str
    asked: Question
    chords: Chords

    @property
    def each(self) -> tuple[float, ...]:
        """The sure end of each condition by itself."""
        one = range(len(self.asked.weights))
        return tuple(self.chords.chance(self.asked.members("low", i)) for i in one)

    @property
    def placed(self) -> float:
        """The sure end of all that is asked of where the part comes in sideways, its lean left aside."""
        leaning = np.array([r.name == "lean" for r in self.asked.asked], dtype=bool)
        return self.chords.chance(self.asked.members("low") & ~leaning)


def question(entry: Entry, conditions: tuple[Condition, ...], sources: Sources) -> Question:
    """What is asked of a mate's entry. conditions: of this entry or of another of the same mate."""
    asked = tuple(r for c in conditions for r in c.requirements)
    of = np.array([i for i, c in enumerate(conditions) for _ in c.requirements], dtype=np.intp)
    pairs = [same_pair(entry, c) for c in conditions]
    readings = [reading.form for reading in entry.readings]
    every = draws_matrix([*(pair.delta for pair in pairs), entry.raw, *readings], sources)
    at = [slice(6 * i, 6 * i + 6) for i in of]
    maps = [r.rows for r in asked]
    rows = np.vstack([m @ every.matrix[where] for m, where in zip(maps, at, strict=True)])
    mean = np.concatenate([m @ every.mean[where] for m, where in zip(maps, at, strict=True)])
    shift = np.vstack([m @ pairs[i].shift for m, i in zip(maps, of, strict=True)])
    rest = DrawsMatrix(every.columns, every.matrix[6 * len(pairs) :], every.mean[6 * len(pairs) :])
    gain = np.array([u.gain for u in entry.updates]).reshape(-1, 6).T
    weights = tuple(c.weights for c in conditions)
    normal = _normal(rows, every, sources)
    return Question(asked, of, rows, mean, rest, shift, gain, weights, normal, sources)


def judge(asked: Question, wanted: Flags | None = None) -> Judgement:
    """The band of a question. wanted (c,): the columns that err; None: all of them."""
    rows = asked.rows if wanted is None else asked.rows * wanted
    found = _chords(asked, rows, _POINTS)
    by_members: dict[bytes, float] = {}

    def chance(end: End) -> float:
        members = asked.members(end)
        key = members.tobytes()
        if key not in by_members:
            by_members[key] = found.chance(members)
        return by_members[key]

    low, goes_in, covered, high = (chance(end) for end in _ALL_ENDS)
    dependent = goes_in - covered > SHARE_LIMIT
    reason = reason_of(goes_in - low, low - covered, SHARE_LIMIT)
    return Judgement(Band(low, max(low, high), dependent), reason, asked, found)


def gained(asked: Question, names: list[str], low: float) -> dict[str, float]:
    """What the sure end gains with one source half as large, the touches trusted anew, by its name.

    low: the sure end. Fewer directions tell what share of the failures goes than how many there are.
    """
    sure = _only(asked, asked.members("low"))
    every = np.ones(len(sure.asked), dtype=bool)
    now = _chords(sure, sure.rows, _QUICK_POINTS).chance(every)
    if 1 - now < _TOLD:
        return dict.fromkeys(names, 0.0)
    share, half = (1 - low) / (1 - now), _Halved.of_question(sure)
    return {name: share * (half.chords(name).chance(every) - now) for name in names}


def _only(asked: Question, which: Flags) -> Question:
    """The question of some of its requirements."""
    two = np.repeat(which, 2)
    kept = tuple(r for r, wanted in zip(asked.asked, which, strict=True) if wanted)
    return replace(
        asked, asked=kept, of=asked.of[which], rows=asked.rows[two], mean=asked.mean[two],
        shift=asked.shift[two],
    )  # fmt: skip


@dataclass(frozen=True, eq=False, slots=True)
class _Halved:
    """A question with any of its sources half as large, and what the touches take back weighed anew.

    effects (p, c): the requirements' rows, the raw deviation's and the readings', one under the other;
    together, normally (p, p): what all draws and what the normal ones do to them; of: the columns of a
    source; other (o,): the columns that are not normal.
    """

    asked: Question
    effects: Array
    together: Array
    normally: Array
    of: Mapping[str, list[int]]
    other: NDArray[np.intp]
    setting: _Setting

    @staticmethod
    def of_question(asked: Question) -> _Halved:
        effects = np.vstack([asked.rows, asked.draws.matrix])
        normal = effects[:, asked.normal]
        of: dict[str, list[int]] = {}
        for i, (key, _) in enumerate(asked.draws.columns):
            of.setdefault(key.source, []).append(i)
        return _Halved(
            asked, effects, effects @ effects.T, normal @ normal.T, of, np.flatnonzero(~asked.normal),
            _setting(asked, _QUICK_POINTS),
        )  # fmt: skip

    def chords(self, name: str) -> Chords:
        """Along a few directions, with this source half as large."""
        asked, its = self.asked, np.array(self.of.get(name, []), dtype=np.intp)
        k, every = len(asked.rows), self.effects[:, its]
        normal = every * asked.normal[its]
        # Half as large, three quarters of the variance are gone.
        normally = self.normally - 0.75 * normal @ normal.T
        other = self.effects[:, self.other] * np.where(np.isin(self.other, its), 0.5, 1.0)
        if not asked.gain.shape[1]:
            return self.setting.chords(normally[:k, :k], other[:k])
        weights = np.eye(k, len(self.effects))
        weights[:, k + 6 :] = asked.shift @ (asked.gain - _gain(self.together - 0.75 * every @ every.T, k))
        return self.setting.chords(weights @ normally @ weights.T, weights @ other)


def _gain(together: Array, k: int) -> Array:
    """Of the readings for the raw deviation (6, r), from what the draws do to them both."""
    readings = slice(k + 6, None)
    size = 1 / np.sqrt(np.diag(together)[readings])
    unit = together[readings, readings] * np.outer(size, size)
    return np.asarray(np.linalg.solve(unit, (together[k : k + 6, readings] * size).T).T * size)


def _chords(asked: Question, rows: Array, count: int) -> Chords:
    """Chords of every requirement along `count` directions, with a draw of sizes and of what is not normal
    for each."""
    normal = rows[:, asked.normal]
    return _setting(asked, count).chords(normal @ normal.T, rows[:, ~asked.normal])


class _Setting:
    """What a question's chords along `count` directions have in common, however large its sources are."""

    def __init__(self, asked: Question, count: int) -> None:
        self._asked, self._count = asked, count
        self._sizes = np.maximum(np.array([r.radii.max() for r in asked.asked]), LEAST_SIZE)
        self._each = np.repeat(self._sizes, 2)[:, None]
        self._mean = asked.mean[:, None] / self._each
        self._periods = np.array([r.period for r in asked.asked]) / self._sizes
        self._sized = [i for i, w in enumerate(asked.weights) if len(w) > 1]
        self._others = int(np.count_nonzero(~asked.normal))
        self._drawn: dict[int, tuple[Array, Array]] = {}

    def chords(self, covariance: Array, other: Array) -> Chords:
        """Covariance (2 k, 2 k): of what the normal draws do to the rows; other (2 k, o): of the others."""
        normal = Normal.of_covariance(covariance, self._sizes)
        freedoms = normal.freedoms
        if freedoms not in self._drawn:
            self._drawn[freedoms] = self._draw(freedoms)
        unit, radii = self._drawn[freedoms]
        along = directions(self._count, self._dimensions(freedoms), freedoms)
        middle = (other / self._each) @ unit
        middle += self._mean
        return scaled_chords(normal, middle, radii, along, self._periods)

    def _dimensions(self, freedoms: int) -> int:
        return freedoms + self._others + len(self._sized)

    def _draw(self, freedoms: int) -> tuple[Array, Array]:
        """Units (o, n) of what is not normal and radii (k, n) in units of the sizes, with each direction."""
        asked, spot = self._asked, points(self._count, self._dimensions(freedoms))
        unit = _not_normal(asked, spot[:, freedoms : freedoms + self._others])
        sizes = spot[:, freedoms + self._others :]
        node = {i: _node(asked.weights[i], sizes[:, j]) for j, i in enumerate(self._sized)}
        first = np.zeros(self._count, dtype=np.intp)
        radii = [
            (r.radii / size)[node.get(int(i), first) if len(r.radii) > 1 else first]
            for r, i, size in zip(asked.asked, asked.of, self._sizes, strict=True)
        ]
        return np.ascontiguousarray(unit.T), np.stack(radii)


@lru_cache(maxsize=4)
def _setting(asked: Question, count: int) -> _Setting:
    # A question is asked twice or more in a row: of all its sources and of some.
    return _Setting(asked, count)


def _node(weights: tuple[float, ...], uniform: Array) -> NDArray[np.intp]:
    return np.minimum(np.searchsorted(np.cumsum(weights), uniform), len(weights) - 1)


def _not_normal(asked: Question, uniform: Array) -> Array:
    """Unit draws (n, c) of the columns that do not count as normal, from uniform coordinates."""
    columns = [c for c, normal in zip(asked.draws.columns, asked.normal, strict=True) if not normal]
    out = np.empty_like(uniform)
    for i, (key, _) in enumerate(columns):
        source = asked.sources.by_name[key.source]
        if source.distribution == "uniform":
            out[:, i] = np.sqrt(3.0) * (2 * uniform[:, i] - 1)
        else:
            out[:, i] = _cut_normal(uniform[:, i], source.truncation)
    return out


def _cut_normal(uniform: Array, limit: float) -> Array:
    """Normal draws cut at +-limit, scaled to variance one, by the inverse of a tabled distribution."""
    at = np.linspace(-limit, limit, 801)
    density = np.exp(-0.5 * at * at)
    below = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]))])
    drawn = np.interp(uniform * below[-1], below, at)
    return np.asarray(drawn / np.sqrt(np.average(at * at, weights=density)))


def _normal(rows: Array, draws: DrawsMatrix, sources: Sources) -> Flags:
    """Which columns count as normal (c,)."""
    squared = rows**2
    total = squared.sum(axis=1, keepdims=True)
    share = (squared / np.where(total > 0, total, 1.0)).max(axis=0, initial=0.0)
    named = np.array([_is_normal(sources, key.source) for key, _ in draws.columns], dtype=bool)
    return np.asarray(named | (share < _NOT_SMALL))


def _is_normal(sources: Sources, name: str) -> bool:
    source = sources.by_name[name]
    cut = source.distribution == "truncated" and source.truncation < _HARDLY_CUT
    return not (cut or source.distribution == "uniform")
