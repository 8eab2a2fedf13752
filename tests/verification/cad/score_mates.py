"""How many mates of a drawn assembly are found, and how many of those found are true."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from tests.geometry.cad.step_writer import write_step
from tests.verification.cad.assemblies import Drawn

from handfast.geometry.cad.read_step import read_step
from handfast.mates.from_cad.guess import Guessed
from handfast.mates.from_cad.recognise import recognise

NEAR = 0.02  # of axes [mm]


@dataclass
class MateScore:
    """Pairs: in the truth, found of them, found at all; mates whose kind is right; words about the rest. A
    wrong pair that carries a question or is less sure than 0.9 is not silent."""

    true: int = 0
    hit: int = 0
    found: int = 0
    kinds: int = 0
    kinds_right: int = 0
    silently_wrong: int = 0
    words: list[str] = field(default_factory=list)


def recognised(drawn: Drawn, folder: Path) -> Guessed:
    path = write_step(folder / f"{drawn.name}.step", drawn.name, drawn.placed())
    return recognise(read_step(path))


def score_assembly(drawn: Drawn, guessed: Guessed, score: MateScore) -> None:
    if guessed.base != drawn.base:
        score.words.append(f"{drawn.name}: base {guessed.base}, truly {drawn.base}")
    left = set(drawn.pairs)
    features = {(p.name, f.feature.name): f.feature for p in guessed.parts for f in p.features}
    T_drawn = {p.name: p.placed.T_assembly_part for p in guessed.parts}
    T_base = next(T for name, _, T in drawn.parts if name == drawn.base)
    for guess in guessed.mates:
        m = guess.mate
        score.kinds += 1
        right = drawn.mates.get(m.part) == m.kind
        score.kinds_right += right
        if not right:
            score.words.append(f"{drawn.name}: {m.part} is {m.kind}, truly {drawn.mates.get(m.part)}")
        for pair in m.pairs:
            score.found += 1
            at = T_drawn[pair.fixed_part] @ features[pair.fixed_part, pair.fixed].frame.matrix
            x, y = (T_base @ np.append(1e3 * at[:3, 3], 1.0))[:2]
            same = next(
                (
                    t
                    for t in left
                    if t[:2] == (m.part, pair.fixed_part) and abs(t[2] - x) < NEAR and abs(t[3] - y) < NEAR
                ),
                None,
            )
            if same is not None:
                left.remove(same)
                score.hit += 1
            else:
                silent = guess.sure >= 0.9 and not guess.questions
                score.silently_wrong += silent
                score.words.append(
                    f"{drawn.name}: {m.part}.{pair.moving} with {pair.fixed_part}.{pair.fixed} is no pair"
                )
    score.true += len(drawn.pairs)
    score.words += [f"{drawn.name}: missed {t}" for t in sorted(left)]
