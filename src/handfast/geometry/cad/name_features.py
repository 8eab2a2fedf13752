"""Names for what was found: by kind and size (6p2: 6.2 mm), numbered in a repeatable order; faces by the
side they look to."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np

from handfast.geometry.cad.drawn_feature import DrawnFeature

_SIDES = {(0, 1): "right", (0, -1): "left", (1, 1): "back", (1, -1): "front", (2, 1): "top", (2, -1): "under"}


def named(found: list[DrawnFeature]) -> tuple[DrawnFeature, ...]:
    """In order of kind, size (largest first) and place."""
    ordered = sorted(found, key=_order)
    stems = [_stem(d) for d in ordered]
    count, used = Counter(stems), Counter[str]()
    out = []
    for drawn, stem in zip(ordered, stems, strict=True):
        used[stem] += 1
        name = stem if count[stem] == 1 else f"{stem}_{used[stem]}"
        out.append(replace(drawn, feature=replace(drawn.feature, name=name)))
    return tuple(out)


_KINDS = ("gear", "hole", "slot", "groove", "ring", "shaft", "face")


def _order(drawn: DrawnFeature) -> tuple[float, ...]:
    f = drawn.feature
    size = f.diameter or (f.size[0] * f.size[1] if f.size else 0.0)
    x, y, z = f.frame.position
    return (
        _KINDS.index(f.kind),
        -round(size, 6),
        -round(z, 6),
        -round(x, 6),
        -round(y, 6),
        -round(f.length or 0, 6),
    )


def _stem(drawn: DrawnFeature) -> str:
    f = drawn.feature
    if f.kind == "face":
        return _side(drawn)
    if f.kind == "gear":
        return "teeth"
    if drawn.form == "tips of teeth":
        return "rim"
    word = "socket" if "socket" in drawn.form else f.kind
    size = f"{1e3 * (f.diameter or 0):.4g}".replace(".", "p")  # a dot parts names, an underscore numbers
    return f"{word}_{size}"


def _side(drawn: DrawnFeature) -> str:
    z = drawn.feature.frame.matrix[:3, 2]
    k = int(np.argmax(np.abs(z)))
    if abs(z[k]) > 0.999:
        return _SIDES[k, 1 if z[k] > 0 else -1]
    return "slanted"
