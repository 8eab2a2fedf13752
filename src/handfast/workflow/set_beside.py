"""Two charts beside each other: what has to be checked again."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import numpy as np

from handfast.model.chart import Chart
from handfast.model.chart_difference import ChartDifference, ElementDifference, Matter
from handfast.model.element import Element

# Paths and places that differ by less are the same [rad, m]: a tenth of a micrometre, at a metre.
_SAME = 1e-7
Key = tuple[str, str, str, str, str, int]


def set_beside(before: Chart, after: Chart, other: frozenset[str] = frozenset()) -> ChartDifference:
    """What differs between two charts. Elements are matched by mate, hand, kind, object and target, in
    their order; numbers and ids shift when one comes or goes. other: parts and tools that are not what they
    were: what handles them, or brings something to them, has to be checked again though it moves alike.

    Where hands work at the same time in either chart, an element that starts at another moment relative to
    the others of its mate is changed too: what the other hand does meanwhile is part of its proof.
    """
    old, new = _keyed(before), _keyed(after)
    together = _overlaps(before) or _overlaps(after)
    changed = [
        found
        for key, element in new.items()
        if (found := _difference(old.get(key), element, before, after, together, other)) is not None
    ]
    gone = tuple(e for key, e in old.items() if key not in new)
    same = len(new) - len(changed)
    return ChartDifference(
        same, tuple(changed), gone, before.makespan_s, after.makespan_s, _order(before, after)
    )


def _keyed(chart: Chart) -> dict[Key, Element]:
    seen: Counter[tuple[str, str, str, str, str]] = Counter()
    out: dict[Key, Element] = {}
    for e in chart.elements:
        key = (e.mate, e.hand, e.kind, e.object, e.target)
        out[(*key, seen[key])] = e
        seen[key] += 1
    return out


def _difference(
    old: Element | None, new: Element, before: Chart, after: Chart, together: bool, other: frozenset[str]
) -> ElementDifference | None:
    if old is None:
        return ElementDifference(new, None, ("new",))
    matters = list(_matters(old, new))
    if together and not matters and _moves(new) and _company(before, old) != _company(after, new):
        matters.append("timing")
    if _handles(new) & other:
        matters.append("part")
    if not matters:
        return None
    return ElementDifference(new, old.number, tuple(matters), _shift(old, new) if "path" in matters else 0.0)


def _matters(old: Element, new: Element) -> list[Matter]:
    compared: tuple[tuple[Matter, bool], ...] = (
        ("path", _paths(old) == _paths(new) and _near(old, new)),
        ("grasp", old.grasp == new.grasp),
        ("place", _left_alike(old, new)),
        ("touch", (old.touch, old.guarded) == (new.touch, new.guarded)),
        ("force", (old.torque, old.turns, old.strategy) == (new.torque, new.turns, new.strategy)),
        ("jaws", old.opening == new.opening),
    )
    return [matter for matter, equal in compared if not equal]


def _left_alike(old: Element, new: Element) -> bool:
    a, b = old.leaves, new.leaves
    if a is None or b is None:
        return a is b
    return a.parent == b.parent and bool(np.abs(a.pose.matrix - b.pose.matrix).max() <= _SAME)


def _handles(e: Element) -> set[str]:
    """What an element moves, and what it goes to."""
    return {e.object, e.target.removeprefix("tool.").partition(".")[0]} - {""}


def _paths(e: Element) -> list[tuple[str, str, int]]:
    return [(m.arm, m.path, len(m.t)) for m in e.motions]


def _near(old: Element, new: Element) -> bool:
    return _shift(old, new) <= _SAME and all(
        np.abs(np.subtract(a.t, b.t)).max() <= _SAME for a, b in zip(old.motions, new.motions, strict=True)
    )


def _shift(old: Element, new: Element) -> float:
    if _paths(old) != _paths(new):
        return 0.0
    pairs = zip(old.motions, new.motions, strict=True)
    return max((float(np.abs(np.subtract(a.q, b.q)).max()) for a, b in pairs), default=0.0)


def _moves(e: Element) -> bool:
    return bool(e.motions)


def _overlaps(chart: Chart) -> bool:
    moving = sorted((e.start_s, e.start_s + e.duration_s, e.hand) for e in chart.elements if _moves(e))
    # The next to start does so before this one has ended.
    return any(a[2] != b[2] and b[0] < a[1] - 1e-9 for a, b in pairwise(moving))


def _company(chart: Chart, e: Element) -> set[tuple[str, str, float]]:
    """What other hands do meanwhile, and how long after this element's start."""
    end = e.start_s + e.duration_s
    return {
        (o.kind, o.object, round(o.start_s - e.start_s, 6))
        for o in chart.elements
        if o.hand != e.hand and _moves(o) and o.start_s < end and e.start_s < o.start_s + o.duration_s
    }


def _order(before: Chart, after: Chart) -> bool:
    """Whether the mates that both have are done in another order."""
    common = set(before.mates) & set(after.mates)
    return [m for m in before.mates if m in common] != [m for m in after.mates if m in common]
