"""How much of the truth is found, and how much of what is found is true."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from tests.geometry.cad.step_writer import at, write_step
from tests.verification.cad.truth import DrawnPart, Truth

from handfast.geometry.cad.drawn_feature import DrawnFeature
from handfast.geometry.cad.find_features import find_features
from handfast.geometry.cad.grips import grips_of
from handfast.geometry.cad.read_step import read_step

NEAR = 0.02  # a place [mm]; a tenth of what ISO 2768-1 m allows on 6 to 30 mm
SIZE = 0.01  # a diameter [mm]; the finer half of IT7 on 3 to 30 mm


@dataclass
class Score:
    """By kind: in the truth, found of it, and found at all; misses and extras in words."""

    true: Counter[str] = field(default_factory=Counter)
    hit: Counter[str] = field(default_factory=Counter)
    found: Counter[str] = field(default_factory=Counter)
    right: Counter[str] = field(default_factory=Counter)
    misses: list[str] = field(default_factory=list)
    extras: list[str] = field(default_factory=list)

    def recall(self, *kinds: str) -> float:
        chosen = kinds or tuple(self.true)
        return sum(self.hit[k] for k in chosen) / max(1, sum(self.true[k] for k in chosen))

    def precision(self, *kinds: str) -> float:
        chosen = kinds or tuple(self.found)
        return sum(self.right[k] for k in chosen) / max(1, sum(self.found[k] for k in chosen))

    def table(self) -> str:
        rows = ["kind      true  recall  found  precision"]
        for k in sorted(set(self.true) | set(self.found)):
            precision = f"{100 * self.precision(k):5.1f}" if self.found[k] else "    -"
            rows.append(
                f"{k:9} {self.true[k]:4}  {100 * self.recall(k):5.1f}  {self.found[k]:5}  {precision}"
            )
        return "\n".join(rows)


def read_part(part: DrawnPart, folder: Path) -> tuple[DrawnFeature, ...]:
    """Written as a STEP file, read back and searched."""
    path = write_step(
        folder / f"{part.name}.step", part.name, [(part.name, part.shape, at(0, 0, 0))], part.unit
    )
    if part.decimals is not None:
        path.write_text(rounded(path.read_text(), part.decimals + (2 if part.unit == "INCH" else 0)))
    return find_features(read_step(path).drawings[0].graph).features


def rounded(text: str, decimals: int) -> str:
    """The points of a STEP file to so many decimals."""

    def coarse(found: re.Match[str]) -> str:
        numbers = (f"{round(float(v), decimals):.{decimals}f}" for v in found[2].split(","))
        return f"CARTESIAN_POINT({found[1]},({','.join(numbers)}))"

    return re.sub(r"CARTESIAN_POINT\s*\(\s*('[^']*')\s*,\s*\(([^()]*)\)\s*\)", coarse, text)


def score_part(part: DrawnPart, features: tuple[DrawnFeature, ...], score: Score) -> None:
    left = list(features)
    for true in part.features:
        match = next((d for d in left if is_same(true, d)), None)
        score.true[true.kind] += 1
        score.true["chamfer"] += true.chamfer is not None
        if match is None:
            score.misses.append(f"{part.name}: {_words(true)}")
            continue
        left.remove(match)
        score.hit[true.kind] += 1
        score.hit["chamfer"] += true.chamfer is not None and _has_chamfer(true, match)
        score.true["form"] += true.kind == "hole"
        score.hit["form"] += (
            true.kind == "hole" and match.form == true.form and true.thread in (None, match.thread)
        )
        if true.chamfer is not None and not _has_chamfer(true, match):
            score.misses.append(f"{part.name}: chamfer of {_words(true)}, found {match.chamfers}")
        if true.kind == "hole" and match.form != true.form:
            score.misses.append(f"{part.name}: {true.form}, found {match.form}")
    for d in features:
        score.found[d.feature.kind] += 1
        score.right[d.feature.kind] += d not in left
    score.extras += [f"{part.name}: {d.feature.kind} {d.feature.name} {d.form}" for d in left]
    _score_grips(part, features, score)


def _score_grips(part: DrawnPart, features: tuple[DrawnFeature, ...], score: Score) -> None:
    widths = [1e3 * g.width for g in grips_of(features)]
    for width in part.grips:
        score.true["grip"] += 1
        near = next((w for w in widths if abs(w - width) < SIZE), None)
        if near is None:
            score.misses.append(f"{part.name}: grip {width:g}")
        else:
            widths.remove(near)
            score.hit["grip"] += 1


def is_same(true: Truth, drawn: DrawnFeature) -> bool:
    f = drawn.feature
    if f.kind != true.kind:
        return False
    if true.diameter is not None and abs(1e3 * (f.diameter or 0) - true.diameter) > SIZE:
        return False
    if true.teeth is not None and (f.teeth, f.module) != (true.teeth, true.module):
        return False
    if (
        true.length is not None
        and abs(1e3 * (f.length or 0) - true.length) > 5 * NEAR
        and true.form != "keyway"
    ):
        return False
    if true.size is not None and np.abs(np.sort(true.size) - 1e3 * np.sort(f.size or (0, 0))).max() > 0.25:
        return False
    return any(_at(true, end.matrix) for end in drawn.ends)


def _at(true: Truth, T: np.ndarray) -> bool:
    where, z = 1e3 * T[:3, 3], T[:3, 2]
    aside = 0.3 if true.kind == "face" else NEAR  # the middle of a face follows from rounded tessellation
    if true.form == "keyway":
        aside = 0.6  # its mouth lies on a round flank
    same_way = float(z @ true.z)
    ends = [(true.at, true.z)] + ([(true.other, -true.z)] if true.other is not None else [])
    if true.kind in ("groove", "gear") and true.form != "in a face":
        return bool(abs(same_way) > 0.99999 and min(np.linalg.norm(where - e) for e, _ in ends) < aside)
    return any(bool(float(z @ way) > 0.99999 and np.linalg.norm(where - e) < aside) for e, way in ends)


def _has_chamfer(true: Truth, drawn: DrawnFeature) -> bool:
    for chamfer in drawn.chamfers:
        if chamfer is None or true.chamfer is None:
            continue
        if (
            abs(1e3 * chamfer[0] - true.chamfer[0]) < NEAR
            and abs(np.rad2deg(chamfer[1]) - true.chamfer[1]) < 1.0
        ):
            return True
    return False


def _words(t: Truth) -> str:
    where = f"at {np.round(t.at, 2)} z {np.round(t.z, 2)}"
    return f"{t.kind} {t.form} d {t.diameter} l {t.length} size {t.size} {where}"
