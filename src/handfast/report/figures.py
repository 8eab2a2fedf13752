"""Figures for papers and slides: error budgets, reliability, what the hands do. Each is a matplotlib Figure.

    from handfast.report.figures import budget_figure
    budget_figure(ledger.body.rows[0]).savefig("budget.svg")

Marks and words carry the meaning, not colour alone. Nothing global is touched (no pyplot).
"""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from handfast.model.chart import Chart
from handfast.model.ledger import MateRow
from handfast.model.reliability import MateAgreement, Reliability
from handfast.page.ledger_section import micrometres
from handfast.page.process_symbol import ORDER, ProcessSymbol, symbol_of
from handfast.page.wording import seconds

INK, SOFT, WARN, BAND = "#17212a", "#8b959b", "#9c1c2b", "#7d8f3a"
HANDS = ("#0b627f", "#9a4310", "#5c5c8a", "#6d7f2e")
_SHOWN = 7
# How a bar of each symbol is filled: (share of the hand's colour, hatch).
_FILL: dict[ProcessSymbol, tuple[float, str]] = {
    "operation": (1.0, ""), "transport": (0.5, ""), "inspection": (0.0, "xxxx"), "hold": (0.15, "////"),
    "delay": (0.0, ""),
}  # fmt: skip


def budget_figure(row: MateRow) -> Figure:
    """What the error of a mate is made of: the sigma of each source against a third of what is allowed."""
    shown = sorted(row.contributors, key=lambda c: -c.share)[:_SHOWN]
    figure, axes = _axes(6.4, 0.95 + 0.235 * max(1, len(shown) + 1))
    values = [1e6 * c.sigma for c in shown] + [1e6 * row.after.sigma_major]
    names = [f"{c.source}{' (assumed)' if c.assumed else ''}" for c in shown] + ["combined σ"]
    at = list(range(len(values)))
    axes.barh(at, values, height=0.62, color=[SOFT] * len(shown) + [INK])
    third = 1e6 * row.allowed / 3
    axes.axvline(third, color=WARN, linewidth=1.6)
    right = max([*values, third]) * 1.22
    axes.set_xlim(0, right)
    for y, value, c in zip(at, values, [*shown, None], strict=True):
        share = f", {100 * c.share:.0f} %" if c is not None else ""
        axes.text(value + right * 0.008, y, f"{micrometres(value * 1e-6)}{share}", va="center", fontsize=7.5,
                  bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6})  # fmt: skip
    axes.set_yticks(at, names)
    axes.invert_yaxis()
    axes.set_xlabel(f"µm; line: a third of the {micrometres(row.allowed)} allowed")
    axes.set_title(f"{row.mate}: margin ratio {row.margin_ratio:.2f}", loc="left", fontsize=10)
    return figure


def reliability_figure(agreed: tuple[Reliability, ...]) -> Figure:
    """For each mate the predicted band, and the interval that simulated builds leave (95 % together)."""
    lines = [(r.with_touches, m) for n in _mates(agreed) for r in agreed for m in r.mates if m.mate == n]
    figure, axes = _axes(6.4, 0.9 + 0.36 * max(1, len(lines)))
    low = min([99.0, *(100 * min(m.predicted.low, m.observed[0]) for _, m in lines if m.tried)])
    axes.set_xlim(max(0.0, low - 2), 100.6)
    for y, (_, m) in enumerate(lines):
        _line(axes, y, m)
    axes.set_yticks(range(len(lines)), [
        f"{m.mate}\n{'with' if touched else 'without'} touches, {m.succeeded} of {m.tried}"
        f"{_verdict(m)}" for touched, m in lines
    ])  # fmt: skip
    axes.set_ylim(len(lines) - 0.4, -0.6)
    axes.set_xlabel("% of builds in which it goes in; band: predicted, line: observed interval, dot: rate")
    axes.set_title("Prediction beside simulated builds", loc="left", fontsize=10)
    return figure


def _verdict(m: MateAgreement) -> str:
    if not m.tried:
        return ": never reached"
    return "" if m.agrees else ": DISAGREES"


def _mates(agreed: tuple[Reliability, ...]) -> list[str]:
    return list(dict.fromkeys(m.mate for r in agreed for m in r.mates))


def _line(axes: Axes, y: float, m: MateAgreement) -> None:
    low, high = 100 * m.predicted.low, 100 * m.predicted.high
    least = 0.006 * (100 - axes.get_xlim()[0])  # so that a narrow band is seen
    axes.barh(y - 0.14, max(high - low, least), left=min(low, high - least), height=0.26, color=BAND)
    if m.tried:
        left, right = (100 * p for p in m.observed)
        axes.plot([left, right], [y + 0.16] * 2, color=INK, linewidth=1.5, marker="|", markersize=8)
        axes.plot(100 * m.succeeded / m.tried, y + 0.16, "o", color=INK, markersize=4)


def hand_utilisation_figure(chart: Chart) -> Figure:
    """What each hand does when, to scale, and for how long in all."""
    figure = Figure(figsize=(9.6, 1.6 + 0.75 * len(chart.hands)), layout="constrained")
    lanes, sums = figure.subplots(1, 2, width_ratios=(3.4, 1))
    for y, hand in enumerate(chart.hands):
        colour = HANDS[y % len(HANDS)]
        own = [e for e in chart.elements if e.hand == hand]
        left = 0.0
        for symbol in ORDER:
            style = _style(symbol, colour)
            spans = [(e.start_s, e.duration_s) for e in own if symbol_of(e) == symbol]
            lanes.broken_barh(spans, (y - 0.3, 0.6), **style)
            total = sum(d for _, d in spans)
            sums.barh(y, total, left=left, height=0.6, **style)
            left += total
        busy = sum(e.duration_s for e in own if symbol_of(e) not in ("hold", "delay"))
        sums.text(
            0, y + 0.46, f"works {seconds(busy)} s, {100 * busy / chart.makespan_s:.0f} %", fontsize=7.5
        )
    for axes in (lanes, sums):
        axes.set_ylim(len(chart.hands) - 0.3, -0.5)
        _plain(axes)
    lanes.set_yticks(range(len(chart.hands)), [f"{h} hand" for h in chart.hands])
    sums.set_yticks([])
    lanes.set_xlim(0, chart.makespan_s)
    lanes.set_xlabel("s")
    sums.set_xlabel("s, by symbol")
    figure.legend(handles=[Patch(label=s, **_style(s, INK)) for s in ORDER], loc="outside upper center",
                  ncols=len(ORDER), frameon=False, fontsize=8)  # fmt: skip
    return figure


def _style(symbol: ProcessSymbol, colour: str) -> dict[str, Any]:
    share, hatch = _FILL[symbol]
    r, g, b = (1 - share * (1 - v) for v in to_rgb(colour))
    line = "--" if symbol == "delay" else "-"
    return {"facecolor": (r, g, b), "edgecolor": colour, "hatch": hatch, "linewidth": 0.6, "linestyle": line}


def _axes(width: float, height: float) -> tuple[Figure, Axes]:
    figure = Figure(figsize=(width, height), layout="constrained")
    axes = figure.subplots()
    _plain(axes)
    return figure, axes


def _plain(axes: Axes) -> None:
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.tick_params(labelsize=8)
    axes.xaxis.label.set_fontsize(8)
