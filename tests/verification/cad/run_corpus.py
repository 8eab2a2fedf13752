"""The whole corpus of parts: how much is found, and how much of what is found is true, by kind.

    python -m tests.verification.cad.run_corpus [SEED ...]

The targets are the project's own: 98 % on analytic files, 95 % on splines. Seeds 1 to 3 were used while the
detector was written; SECOND was drawn once, at the end, and what it showed stands in docs/accuracy.md.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.verification.cad.assemblies import corpus as assemblies
from tests.verification.cad.parts import corpus
from tests.verification.cad.score import Score, read_part, score_part
from tests.verification.cad.score_mates import MateScore, recognised, score_assembly

SECOND = 20261128
KINDS = ("hole", "form", "chamfer", "shaft", "slot", "groove", "face", "grip", "gear", "ring")
LEAST = {False: 0.98, True: 0.95}


def run(seed: int, share: float = 1.0) -> dict[bool, Score]:
    """Scores of analytic files (False) and spline files (True)."""
    scores = {spline: Score() for spline in LEAST}
    with tempfile.TemporaryDirectory() as folder:
        for part in corpus(seed, share):
            score_part(part, read_part(part, Path(folder)), scores[part.spline])
    return scores


def short_of_target(scores: dict[bool, Score]) -> list[str]:
    """Kinds that miss their target, in words."""
    out = []
    for spline, score in scores.items():
        for kind in KINDS:
            words = f"{kind} {'spline' if spline else 'analytic'}"
            if score.true[kind] and score.recall(kind) < LEAST[spline]:
                out.append(f"{words}: recall {score.recall(kind):.3f}")
            if score.found[kind] and score.precision(kind) < LEAST[spline]:
                out.append(f"{words}: precision {score.precision(kind):.3f}")
    return out


def run_assemblies(seed: int) -> MateScore:
    """Nine assemblies, 53 pairs."""
    score = MateScore()
    with tempfile.TemporaryDirectory() as folder:
        for drawn in assemblies(seed):
            score_assembly(drawn, recognised(drawn, Path(folder)), score)
    return score


def main() -> int:
    say = sys.stdout.write
    failed = []
    for seed in [int(s) for s in sys.argv[1:]] or [1, SECOND]:
        scores = run(seed)
        for spline, score in scores.items():
            say(f"seed {seed}, {'splines' if spline else 'analytic'}\n{score.table()}\n")
            for words in (*score.misses, *(f"not true: {e}" for e in score.extras)):
                say(f"   {words}\n")
        failed += short_of_target(scores)
        mates = run_assemblies(seed)
        say(f"pairs: {mates.true} true, {mates.hit} of them found, {mates.found} found; ")
        say(
            f"kinds of mates: {mates.kinds_right} of {mates.kinds} right; silently wrong "
            f"{mates.silently_wrong}\n"
        )
        for words in mates.words:
            say(f"   {words}\n")
        if mates.hit < 0.98 * mates.true or mates.hit < 0.98 * mates.found:
            failed.append("pairs of assemblies")
        if mates.silently_wrong > 0.005 * mates.found:
            failed.append("silently wrong pairs")
    for words in failed:
        say(f"short of the target: {words}\n")
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
