"""The corpus of parts as meshes, at two deflections: how much is found, and how much of it is true.

    python -m tests.verification.cad.run_meshes [SEED ...]

Targets are the project's own: 95 % of holes, shafts, lead-ins and flat faces on fine meshes, 90 % on coarse
ones. Other kinds are told. Gears are scored apart and have no target: on most, two or three flats make up the
tip of a tooth, which shows no arc, and the flanks stay flat faces.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.verification.cad.parts import corpus
from tests.verification.cad.score import Score, score_part
from tests.verification.cad.tessellate import COARSE, FINE, write_stl
from tests.verification.cad.truth import DrawnPart

from handfast.geometry.cad.drawn_feature import DrawnFeature
from handfast.geometry.cad.find_features import find_features
from handfast.geometry.cad.read_mesh_part import read_mesh_part

KINDS = ("hole", "shaft", "chamfer", "face")
DEFLECTIONS = {"fine": (FINE, 0.95), "coarse": (COARSE, 0.90)}
GEARS = ", gears"


def read_as_mesh(part: DrawnPart, folder: Path, deflection: tuple[float, float]) -> tuple[DrawnFeature, ...]:
    """Written as an STL file, read back and searched."""
    path = write_stl(part.shape, folder / f"{part.name}.stl", deflection)
    return find_features(read_mesh_part(path, "mm").drawings[0].graph).features


def run(seed: int, share: float = 1.0) -> dict[str, Score]:
    """Scores by the name of the deflection, those of gears by that name and "gears"."""
    scores = {name + gears: Score() for name in DEFLECTIONS for gears in ("", GEARS)}
    with tempfile.TemporaryDirectory() as folder:
        for part in corpus(seed, share):
            for name, (deflection, _) in DEFLECTIONS.items():
                apart = GEARS if part.name.startswith("gear_") else ""
                score_part(part, read_as_mesh(part, Path(folder), deflection), scores[name + apart])
    return scores


def short_of_target(scores: dict[str, Score]) -> list[str]:
    """Kinds that miss their target, in words."""
    out = []
    for name, (_, least) in DEFLECTIONS.items():
        for kind in KINDS:
            score = scores[name]
            if score.recall(kind) < least:
                out.append(f"{kind} {name}: recall {score.recall(kind):.3f}")
            if kind != "chamfer" and score.precision(kind) < least:
                out.append(f"{kind} {name}: precision {score.precision(kind):.3f}")
    return out


def counted(extras: list[str]) -> list[str]:
    """Extras of one part and kind as one line, where there are several."""
    by: dict[str, list[str]] = {}
    for extra in extras:
        by.setdefault(" ".join(extra.split()[:2]), []).append(extra)
    return [lines[0] if len(lines) == 1 else f"{len(lines)} of {key}" for key, lines in by.items()]


def main() -> int:
    failed = []
    for seed in [int(s) for s in sys.argv[1:]] or [1]:
        scores = run(seed)
        for name, score in scores.items():
            sys.stdout.write(f"seed {seed}, {name}\n{score.table()}\n")
            for words in (*score.misses, *(f"not true: {e}" for e in counted(score.extras))):
                sys.stdout.write(f"   {words}\n")
        failed += short_of_target(scores)
    for words in failed:
        sys.stdout.write(f"short of the target: {words}\n")
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
