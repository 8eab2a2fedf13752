"""Which feature of a revised drawing is which of the old one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.spatial.se3 import Array
from handfast.workflow.from_cad.written_feature import WrittenFeature

SAME = 2e-6  # of places and sizes [m]
_TAP = 0.12e-3  # a tap drill and the thread's own minor diameter may differ by so much [m]
_FAR = 12e-3  # what moved farther is another one [m]
_CLEARER = 2.0  # times as near as the next candidate it must be
MATCHES = ("same", "resized", "moved", "doubtful")


@dataclass(frozen=True, slots=True)
class Match:
    """old, new: names; how: "same", "resized" in its place, "moved" with its size, or "doubtful": several
    could be it; moved [m]."""

    old: str
    new: str
    how: str
    moved: float = 0.0


def matches(old: list[WrittenFeature], new: list[WrittenFeature]) -> list[Match]:
    """At most one for each old and each new feature. What is not matched was taken away, or added."""
    left, open_ = list(old), list(new)
    found: list[Match] = []
    for how, rule in (("same", _same), ("resized", _resized)):
        for a in tuple(left):
            fits = [b for b in open_ if rule(a, b)]
            if len(fits) == 1:
                found.append(Match(a.name, fits[0].name, how))
                left.remove(a)
                open_.remove(fits[0])
    return found + _moved(left, open_, old)


def _alike(a: WrittenFeature, b: WrittenFeature) -> bool:
    return a.family == b.family and float(a.z @ b.z) > 0.99999


def _sized(a: WrittenFeature, b: WrittenFeature) -> bool:
    close = _TAP if a.family == "hole" else SAME
    if len(a.size) != len(b.size):
        return False
    return all(
        abs(x - y) < (close if k == 0 else SAME) for k, (x, y) in enumerate(zip(a.size, b.size, strict=True))
    )


def _same(a: WrittenFeature, b: WrittenFeature) -> bool:
    return _alike(a, b) and _sized(a, b) and _apart(a, b) < SAME


def _resized(a: WrittenFeature, b: WrittenFeature) -> bool:
    if a.family == "face":  # a face stays itself while its plane stays and it covers its old middle
        level = abs(float((b.at - a.at) @ a.z))
        return _alike(a, b) and level < SAME and _apart(a, b) < 0.5 * max(a.size, default=0.0)
    return _alike(a, b) and _apart(a, b) < SAME


def _apart(a: WrittenFeature, b: WrittenFeature) -> float:
    return float(np.linalg.norm(b.at - a.at))


def _moved(left: list[WrittenFeature], open_: list[WrittenFeature], old: list[WrittenFeature]) -> list[Match]:
    shift = _common_shift(left, open_)
    if shift is not None:
        return [
            Match(a.name, b.name, "moved", _apart(a, b)) for a in left for b in open_
            if _alike(a, b) and _sized(a, b) and float(np.linalg.norm(b.at - a.at - shift)) < SAME
        ]  # fmt: skip
    found = []
    for a in left:
        near = sorted((b for b in open_ if _alike(a, b) and _sized(a, b)), key=lambda b: _apart(a, b))
        rivals = sorted(
            (o for o in left if o is not a and _alike(o, a) and _sized(o, a)), key=lambda o: _apart(o, a)
        )
        if not near or _apart(a, near[0]) > _FAR:
            continue
        here = _apart(a, near[0])
        next_new = _apart(a, near[1]) if len(near) > 1 else np.inf
        next_old = min((_apart(o, near[0]) for o in rivals), default=np.inf)
        others = [_apart(o, a) for o in old if o is not a and _alike(o, a) and _sized(o, a)]
        clear = min(next_new, next_old) > _CLEARER * here and min(others, default=np.inf) > _CLEARER * here
        found.append(Match(a.name, near[0].name, "moved" if clear else "doubtful", here))
    taken = [m.new for m in found]
    return [m if taken.count(m.new) == 1 else Match(m.old, m.new, "doubtful", m.moved) for m in found]


def _common_shift(left: list[WrittenFeature], open_: list[WrittenFeature]) -> Array | None:
    """The one vector by which all of at least two features moved, if it explains every one of them."""
    if len(left) < 2 or len(left) != len(open_):
        return None
    for b in open_:
        if not (_alike(left[0], b) and _sized(left[0], b)):
            continue
        shift = b.at - left[0].at
        hits = [
            sum(
                _alike(a, c) and _sized(a, c) and float(np.linalg.norm(c.at - a.at - shift)) < SAME
                for c in open_
            )
            for a in left
        ]
        if all(h == 1 for h in hits) and float(np.linalg.norm(shift)) < 4 * _FAR:
            return np.asarray(shift)
    return None
