"""A chart of both hands at once as a run carries it out: one element after another."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from handfast.model.chart import Chart

_TINY = 1e-6


def in_turn(chart: Chart, since: float = 0.0) -> Chart | None:
    """The chart with each element that begins at `since` [s] or later begun when the one before it has ended;
    None if that changes nothing.

    The arms then meet in pairs of places in which the chart itself never has them, so it has to be proven
    anew. Holds and delays are left out: they are only what a hand does meanwhile.
    """
    working = [e for e in chart.elements if e.kind not in ("hold", "delay")]
    before = [e for e in working if e.start_s < since - _TINY]
    after = sorted((e for e in working if e.start_s >= since - _TINY), key=lambda e: (e.start_s, e.number))
    if all(a.start_s + a.duration_s <= b.start_s + _TINY for a, b in pairwise(after)):
        return None
    clock, placed = since, []
    for e in after:
        placed.append(replace(e, start_s=clock))
        clock += e.duration_s
    numbered = tuple(replace(e, number=i) for i, e in enumerate((*before, *placed), 1))
    return replace(chart, elements=numbered, makespan_s=clock)
