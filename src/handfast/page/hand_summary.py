"""The summary box of a two-handed process chart: how many of each symbol a hand has, and for how long."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.chart import Chart
from handfast.page.process_symbol import ORDER, ProcessSymbol, symbol_of


@dataclass(frozen=True, slots=True)
class SymbolSum:
    """Of one symbol in one hand: number of elements, and how long they take together [s]."""

    symbol: ProcessSymbol
    count: int
    total_s: float


@dataclass(frozen=True, slots=True)
class HandSummary:
    """One column. idle_s: what no element covers, from 0 to the makespan [s]."""

    hand: str
    sums: tuple[SymbolSum, ...]
    idle_s: float


def summarise(chart: Chart) -> tuple[HandSummary, ...]:
    """A summary per hand, in the order of the columns."""
    return tuple(_of_hand(chart, hand) for hand in chart.hands)


def _of_hand(chart: Chart, hand: str) -> HandSummary:
    own = [e for e in chart.elements if e.hand == hand]
    sums = tuple(
        SymbolSum(
            symbol,
            sum(1 for e in own if symbol_of(e) == symbol),
            sum(e.duration_s for e in own if symbol_of(e) == symbol),
        )
        for symbol in ORDER
    )
    busy = sum(s.total_s for s in sums)
    return HandSummary(hand, sums, max(0.0, chart.makespan_s - busy))
