"""The two-hand chart as an SVG drawing: time runs down, to scale, between the columns of the two hands."""

from __future__ import annotations

from html import escape

from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.page.process_symbol import OUTLINE, symbol_of
from handfast.page.spread_labels import spread
from handfast.page.wording import phrase, seconds

WIDTH = 1120
MIDDLE = WIDTH / 2
PITCH = 22.0
TOP = 44.0
# Distances from the middle: the bar's inner and outer edge, symbol, number, duration, words.
BAR, BAR_END, SYMBOL, NUMBER, DURATION, WORDS = 30, 50, 84, 116, 162, 176


def chart_drawing(chart: Chart, notes: dict[int, str], critical: frozenset[int] = frozenset()) -> str:
    """An <svg> element. notes: by element number, a few words printed after an element's own; critical:
    numbers of elements that are marked as such."""
    scale = _scale(chart)
    bottom = TOP + chart.makespan_s * scale
    columns = [
        _column(chart, hand, side, scale, notes) for hand, side in zip(chart.hands, (-1, 1), strict=False)
    ]
    height = max([bottom, *(low for _, low in columns)]) + 26
    marks = [_critical(chart, e, scale) for e in chart.elements if e.number in critical]
    body = "".join([_axis(chart, scale), *(text for text, _ in columns), *marks, _handovers(chart, scale)])
    label = (
        f"Two-hand chart of {chart.project}: {len(chart.elements)} elements in {seconds(chart.makespan_s)} s"
    )
    return (
        f'<svg class="chart" viewBox="0 0 {WIDTH} {height:.0f}" role="img" aria-label="{escape(label)}">'
        f"{_PATTERNS}{body}</svg>"
    )


_PATTERNS = (
    '<defs><pattern id="held" width="5" height="5" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)">'
    '<line class="hatch" x1="0" y1="0" x2="0" y2="5"/></pattern></defs>'
)


def _scale(chart: Chart) -> float:
    """Pixels a second: as many as let every label stand near its element."""
    busiest = max(sum(1 for e in chart.elements if e.hand == hand) for hand in chart.hands)
    return max(14.0, PITCH * (busiest + 2) / max(chart.makespan_s, 1e-6))


def _axis(chart: Chart, scale: float) -> str:
    """A tick each second, a number every fifth; the end in full."""
    ticks = []
    for second in range(int(chart.makespan_s) + 1):
        y = TOP + second * scale
        reach, kind = (BAR - 4, "tick five") if second % 5 == 0 else (8, "tick")
        if second % 5 == 0 and chart.makespan_s - second > 1.2:
            ticks.append(f'<text class="time" x="{MIDDLE}" y="{y + 4:.1f}">{second}</text>')
            ticks.append(
                _line(kind, MIDDLE - reach, y, MIDDLE - 13, y)
                + _line(kind, MIDDLE + 13, y, MIDDLE + reach, y)
            )
        else:
            ticks.append(_line(kind, MIDDLE - reach, y, MIDDLE + reach, y))
    end = TOP + chart.makespan_s * scale
    ticks.append(_line("end", MIDDLE - BAR_END, end, MIDDLE + BAR_END, end))
    ticks.append(
        f'<text class="time last" x="{MIDDLE}" y="{end + 17:.1f}">{seconds(chart.makespan_s)} s</text>'
    )
    return "".join(ticks)


def _column(chart: Chart, hand: str, side: int, scale: float, notes: dict[int, str]) -> tuple[str, float]:
    """One hand's bars and labels, and how far down they reach."""
    own = sorted((e for e in chart.elements if e.hand == hand), key=lambda e: (e.start_s, e.number))
    wanted = [TOP + (e.start_s + min(e.duration_s / 2, 0.5 * PITCH / scale)) * scale for e in own]
    places = [max(y, TOP + 4 + i * PITCH) for i, y in enumerate(spread(wanted, PITCH))]
    name = "left" if side < 0 else "right"
    drawn = [_element(e, y, side, scale, notes.get(e.number, "")) for e, y in zip(own, places, strict=True)]
    drawn.append(_text("column", WORDS, 12, side, f"{escape(hand)} hand", inner=False))
    return f'<g class="hand {name}">{"".join(drawn)}</g>', (places[-1] if places else TOP)


def _element(element: Element, y: float, side: int, scale: float, note: str) -> str:
    symbol = symbol_of(element)
    start, height = TOP + element.start_s * scale, max(2.0, element.duration_s * scale - 1.5)
    words = escape(phrase(element))
    extra = f' <tspan class="note">{escape(note)}</tspan>' if note else ""
    ends = f"{seconds(element.start_s)} s to {seconds(element.start_s + element.duration_s)} s"
    at = f"translate({MIDDLE + side * SYMBOL:.1f} {y:.1f})"
    return (
        f'<g class="{symbol}" id="element-{element.number}">'
        f"<title>{element.number} {words}, {ends}</title>"
        f"{_bar(start, height, side)}{_leader(start + min(height / 2, PITCH / 2), y, side)}"
        f'<path class="symbol" transform="{at}" d="{OUTLINE[symbol]}"/>'
        f"{_text('number', NUMBER, y, side, str(element.number), inner=True)}"
        f"{_text('duration', DURATION, y, side, seconds(element.duration_s), inner=True)}"
        f"{_text('words', WORDS, y, side, words + extra, inner=False)}</g>"
    )


def _bar(start: float, height: float, side: int) -> str:
    x = MIDDLE + BAR if side > 0 else MIDDLE - BAR_END
    return f'<rect class="bar" x="{x:.1f}" y="{start:.1f}" width="{BAR_END - BAR}" height="{height:.1f}"/>'


def _critical(chart: Chart, element: Element, scale: float) -> str:
    """A strong line along the outer edge of its bar."""
    side = -1 if chart.hands.index(element.hand) == 0 else 1
    x, y = MIDDLE + side * (BAR_END + 3), TOP + element.start_s * scale
    return _line("critical", x, y, x, y + element.duration_s * scale)


def _leader(bar: float, label: float, side: int) -> str:
    """From the bar to the symbol beside its label."""
    near, far = MIDDLE + side * BAR_END, MIDDLE + side * (SYMBOL - 12)
    path = f"M{near:.1f} {bar:.1f}h{side * 5}L{far - side * 4:.1f} {label:.1f}H{far:.1f}"
    return f'<path class="leader" d="{path}"/>'


def _text(kind: str, distance: float, y: float, side: int, words: str, *, inner: bool) -> str:
    """Text that ends (inner) or begins at that distance from the middle."""
    anchor = "end" if (side > 0) == inner else "start"
    x = MIDDLE + side * distance
    return f'<text class="{kind}" x="{x:.1f}" y="{y + 4.5:.1f}" text-anchor="{anchor}">{words}</text>'


def _handovers(chart: Chart, scale: float) -> str:
    """A line across the middle when a hand takes something out of the other hand."""
    lines = []
    for element in chart.elements:
        if element.kind == "grasp" and element.target.startswith("hand."):
            y = TOP + (element.start_s + element.duration_s) * scale
            lines += [_line("handover", MIDDLE + s * BAR_END, y, MIDDLE + s * 12, y) for s in (-1, 1)]
    return "".join(lines)


def _line(kind: str, x1: float, y1: float, x2: float, y2: float) -> str:
    return f'<line class="{kind}" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>'
