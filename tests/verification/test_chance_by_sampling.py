"""The chance that many conditions hold at once, against plain draws, within three standard errors of these.

Eight random mates, each with narrow limits and with wide ones: two to five pairs, each with discs on place
and on tilt as insertions have them, all of one error in six freedoms made of normal, cut and evenly spread
sources, some of them large. Seeds were fixed beforehand; 16 comparisons at three standard errors all hold in
96 of 100 tries of a right answer.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from handfast.model.error_source import ErrorSource
from handfast.uncertainty.draws_matrix import DrawsMatrix
from handfast.uncertainty.instances import Instance
from handfast.uncertainty.judge import Question, _chords, _normal, judge
from handfast.uncertainty.requirement import EVERY_END, Requirement
from handfast.uncertainty.sources import Sources

Array = NDArray[np.float64]
DRAWS = 100_000
KINDS = ("normal", "truncated", "uniform")


def sources_of(rng: np.random.Generator) -> Sources:
    count = int(rng.integers(4, 9))
    named = {
        f"s{i}": ErrorSource(f"s{i}", "holder.nest", (1.0,) * 6, "part", KINDS[i % 3], truncation=2.0)  # type: ignore[arg-type]
        for i in range(count)
    }
    return Sources({}, named, {name: np.ones(6) for name in named})


def drawn(source: ErrorSource, rng: np.random.Generator) -> Array:
    """Draws of variance one, by plain rejection."""
    if source.distribution == "uniform":
        return np.asarray(rng.uniform(-1, 1, DRAWS) * 3**0.5)
    values = rng.standard_normal(3 * DRAWS)
    if source.distribution == "truncated":
        values = values[np.abs(values) < source.truncation]
        # Variance of the normal cut at two sigma: 0.7737 (1 - 4 phi(2)/(2 Phi(2) - 1), normal table).
        return np.asarray(values[:DRAWS] / 0.7737413**0.5)
    return np.asarray(values[:DRAWS])


def question_of(seed: int) -> Question:
    rng = np.random.default_rng([seed, 7])
    sources = sources_of(rng)
    columns = tuple((Instance(name), f) for name in sorted(sources.by_name) for f in range(6))
    size = np.exp(rng.normal(size=len(columns)) * 0.7)
    raw = rng.normal(size=(6, len(columns))) * size
    raw /= np.sqrt((raw**2).sum(axis=1, keepdims=True))
    requirements, of, rows = [], [], []
    pairs = int(rng.integers(2, 6))
    for pair in range(pairs):
        move = np.eye(6) + 0.3 * rng.normal(size=(6, 6))
        for name, freedoms in (("place", (0, 1)), ("tilt", (3, 4))):
            pick = np.zeros((2, 6))
            pick[0, freedoms[0]] = pick[1, freedoms[1]] = 1.0
            sizes = [0.8, 1.0, 1.2] if name == "place" else [1.0]
            radii = rng.uniform(1.8, 3.2) * np.array(sizes)
            requirements.append(Requirement(name, pick, radii, EVERY_END))
            of.append(pair)
            rows.append(pick @ move @ raw)
    draws = DrawsMatrix(columns, raw, np.zeros(6))
    stacked = np.vstack(rows)
    return Question(
        tuple(requirements), np.array(of), stacked, 0.2 * rng.normal(size=len(stacked)), draws,
        np.zeros((len(stacked), 6)), np.zeros((6, 0)), ((1 / 6, 2 / 3, 1 / 6),) * pairs,
        _normal(stacked, draws, sources), sources,
    )  # fmt: skip


def counted(asked: Question, rng: np.random.Generator) -> float:
    unit = np.stack([drawn(asked.sources.by_name[key.source], rng) for key, _ in asked.draws.columns])
    error = asked.rows @ unit + asked.mean[:, None]
    sizes = [rng.choice(3, size=DRAWS, p=w) for w in asked.weights]
    good = np.ones(DRAWS, dtype=bool)
    for i, requirement in enumerate(asked.asked):
        several = len(requirement.radii) > 1
        radius = requirement.radii[sizes[asked.of[i]]] if several else requirement.radii[0]
        good &= np.hypot(error[2 * i], error[2 * i + 1]) <= radius
    return float(good.mean())


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("wider", [1.0, 2.0])
def test_a_chance_is_what_draws_say(seed: int, wider: float) -> None:
    """With 32 times as many directions as a ledger takes, so that its own error is under that of the draws;
    and a ledger's answer lies within a point of it: a third of its columns are large and not normal here."""
    asked = question_of(seed)
    asked = replace(asked, asked=tuple(replace(r, radii=wider * r.radii) for r in asked.asked))
    share = counted(asked, np.random.default_rng([seed, 11]))
    members = asked.members("low")
    found = _chords(asked, asked.rows, 32 * 4096).chance(members)
    assert 0.3 < share < 0.9995, "a chance that draws can tell"
    assert abs(found - share) < 3 * (share * (1 - share) / DRAWS) ** 0.5
    assert judge(asked).band.low == pytest.approx(found, abs=0.011)
