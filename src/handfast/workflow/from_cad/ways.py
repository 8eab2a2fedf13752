"""Which way parts come out of a drawn product: which way is up, and whether it must be turned over."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from handfast.mates.from_cad.guess import Guessed, GuessedGroup, GuessedMate
from handfast.spatial.se3 import Array

UPRIGHT, OVER = "nest.upright", "nest.over"
_AGAINST = -0.999  # of a way out and the way up: the product is turned over for that mate
_FIRM = ("press", "screw")


def up_of(guessed: Guessed) -> Array:
    """The way out of most parts that are put on the product itself, in the frame of its base: it is to point
    up."""
    ways = ways_out(guessed)
    return _most(ways[m.mate.name] for m in on_the_product(guessed))


def group_up(guessed: Guessed, group: GuessedGroup) -> Array:
    """The same of a sub-assembly, in the frame of its own base."""
    ways = ways_out(guessed)
    base = next(p for p in guessed.parts if p.name == group.base)
    return np.asarray(base.placed.T_assembly_part[:3, :3].T @ _most(ways[name] for name in group.mates))


def on_the_product(guessed: Guessed) -> list[GuessedMate]:
    """Mates that are not done in a sub-assembly."""
    apart = {name for g in guessed.groups for name in g.mates}
    return [m for m in guessed.mates if m.mate.name not in apart]


def ways_out(guessed: Guessed) -> dict[str, Array]:
    """By mate, which way its part comes out again, in the frame of the product's base; unit."""
    features = {(p.name, f.feature.name): f.feature for p in guessed.parts for f in p.features if f.used}
    poses = {p.name: p.placed.T_assembly_part for p in guessed.parts}
    found = {}
    for m in guessed.mates:
        first = m.mate.pairs[0]
        moving, fixed = features[m.mate.part, first.moving], features[first.fixed_part, first.fixed]
        z = poses[m.mate.part][:3, :3] @ moving.frame.matrix[:3, 2]
        over = moving.kind in ("hole", "slot") and fixed.kind == "shaft"
        found[m.mate.name] = np.asarray(z if over else -z)
    return found


def _most(ways: Iterable[Array]) -> Array:
    votes: Counter[tuple[float, float, float]] = Counter()
    for way in ways:
        x, y, z = (round(float(v), 3) + 0.0 for v in way)
        votes[x, y, z] += 1
    best = max(votes, key=lambda v: (votes[v], v[2])) if votes else (0.0, 0.0, 1.0)
    return np.array(best)


def from_below(guessed: Guessed) -> set[str]:
    """Names of mates on the product whose parts come in from below."""
    up, ways = up_of(guessed), ways_out(guessed)
    return {m.mate.name for m in on_the_product(guessed) if float(ways[m.mate.name] @ up) < _AGAINST}


def with_stands(guessed: Guessed) -> Guessed:
    """Where parts come in from both sides, the product is turned over: each mate says on which side it stands
    meanwhile, and what keeps its part in is asked."""
    below = from_below(guessed)
    if not below:
        return guessed
    own = {m.mate.name for m in on_the_product(guessed)}
    clamped = {c for m in guessed.mates if m.mate.kind in _FIRM for c in m.mate.clamps}
    mates = []
    for m in guessed.mates:
        if m.mate.name not in own:
            mates.append(m)
            continue
        stands = f"place.{OVER if m.mate.name in below else UPRIGHT}"
        asked, stays = m.questions, m.mate.stays
        if m.mate.kind not in _FIRM and m.mate.part not in clamped and not stays:
            stays = True
            words = f"does it stay in by itself when {guessed.base} is turned over (a snap, adhesive)?"
            asked = (*asked, ("stays", f"{words} Else press it in"))
        mates.append(replace(m, mate=replace(m.mate, stands=stands, stays=stays), questions=asked))
    return replace(guessed, mates=_turned_once(guessed, mates, below))


def _turned_once(guessed: Guessed, mates: list[GuessedMate], below: set[str]) -> tuple[GuessedMate, ...]:
    """What comes in from above first, then what comes in from below, as far as either may wait for the
    other."""
    joins = {name: g.base for g in guessed.groups for name in g.mates}
    by_part = {m.mate.part: m.mate.name for m in mates}

    def late(m: GuessedMate) -> bool:
        name = m.mate.name
        while name in joins:
            name = by_part[joins[name]]
        return name in below

    ordered = sorted(mates, key=late)
    place = {m.mate.name: k for k, m in enumerate(ordered)}
    for m in ordered:
        apart = joins.get(m.mate.name)  # what is built apart goes onto its base before that is home
        first = (*m.mate.needs, *(by_part[p] for p in m.mate.joined if p in by_part and p != apart))
        if any(place.get(n, -1) > place[m.mate.name] for n in first):
            return tuple(mates)
    return tuple(ordered)
