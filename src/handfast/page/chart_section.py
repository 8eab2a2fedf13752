"""The two-hand chart with its key and summary, and the same again as a plain table."""

from __future__ import annotations

from html import escape

from handfast.model.chart import Chart
from handfast.page.chart_drawing import chart_drawing
from handfast.page.critical_path import critical_path
from handfast.page.hand_summary import HandSummary, summarise
from handfast.page.html_table import table
from handfast.page.page_input import PageInput
from handfast.page.process_symbol import ORDER, OUTLINE, SYMBOL_OF, ProcessSymbol, symbol_of
from handfast.page.wording import phrase, seconds


def chart_section(page: PageInput) -> str:
    """A <section>."""
    chart = page.chart.body
    drawing = chart_drawing(chart, notes_of(page), frozenset(critical_path(chart)))
    return (
        '<section id="chart"><h2>Two-hand chart</h2>'
        f'<div class="scroll"><div class="sheet">{drawing}</div></div>'
        "<p>A strong line beside an element: it is on the critical path, and begins when the one before it "
        f"on that path ends.</p>{_as_table(chart)}</section>"
    )


def summary(chart: Chart) -> str:
    """The summary box: symbols, what they stand for, and how often and how long per hand."""
    hands = summarise(chart)
    head = "".join(f'<th scope="col" colspan="2">{escape(h.hand)} hand</th>' for h in hands)
    rows = "".join(_summary_row(i, symbol, hands) for i, symbol in enumerate(ORDER))
    idle = "".join(f'<td></td><td class="number">{seconds(h.idle_s)} s</td>' for h in hands)
    rest = f'<tr><th scope="row"><span class="glyph"></span>no element</th>{idle}</tr>'
    return (
        f'<table class="summary"><thead><tr><th scope="col">symbol</th>{head}</tr></thead>'
        f"<tbody>{rows}{rest}</tbody></table>"
    )


def _summary_row(i: int, symbol: ProcessSymbol, hands: tuple[HandSummary, ...]) -> str:
    kinds = ", ".join(kind for kind, own in SYMBOL_OF.items() if own == symbol)
    charts = f'<br><span class="small">{kinds}</span>' if kinds != symbol else ""
    counts = "".join(
        f'<td class="number">{h.sums[i].count}</td><td class="number">{seconds(h.sums[i].total_s)} s</td>'
        for h in hands
    )
    return f'<tr><th scope="row">{_symbol(symbol)}{symbol}{charts}</th>{counts}</tr>'


def _symbol(symbol: ProcessSymbol) -> str:
    outline = f'<path d="{OUTLINE[symbol]}"/>'
    return f'<svg class="glyph" viewBox="-7 -7 14 14" aria-hidden="true">{outline}</svg>'


def notes_of(page: PageInput) -> dict[int, str]:
    """Mates and touches carry their margin."""
    notes: dict[int, str] = {}
    for element in page.chart.body.elements:
        row = page.row(element.mate)
        if row is None:
            continue
        if element.id == row.element:
            notes[element.number] = f"margin {row.margin_ratio:.1f}"
        elif element.kind == "locate":
            before, after = 1e6 * row.before.sigma_major, 1e6 * row.after.sigma_major
            notes[element.number] = f"σ {before:.0f} → {after:.0f} µm"
    return notes


def elements_table(chart: Chart) -> tuple[list[str], list[list[str]]]:
    """Head and a row for each element."""
    rows = [
        [
            str(e.number),
            seconds(e.start_s),
            seconds(e.duration_s),
            e.hand,
            symbol_of(e),
            phrase(e),
            e.mate,
        ]
        for e in chart.elements
    ]
    return ["no.", "start, s", "takes, s", "hand", "symbol", "element", "mate"], rows


def _as_table(chart: Chart) -> str:
    head, rows = elements_table(chart)
    return f"<details><summary>The chart as a table</summary>{table('elements', head, rows)}</details>"
