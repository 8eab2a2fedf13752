"""The two-hand chart in the terminal: left hand, time, right hand; a line whenever an element starts."""

from __future__ import annotations

from itertools import zip_longest
from textwrap import wrap

from rich.text import Text

from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.page.hand_summary import summarise
from handfast.page.process_symbol import GLYPH, ORDER, symbol_of
from handfast.page.wording import phrase, seconds

TIME_WIDTH = 9
LEAST_COLUMN = 34
SAME_START_S = 0.005

STYLE = {"operation": "bold", "transport": "", "inspection": "bold", "hold": "dim", "delay": "dim"}


def chart_text(chart: Chart, width: int) -> Text:
    """The chart in at most `width` columns: two columns of elements where they fit, else one list."""
    column = (width - TIME_WIDTH) // 2
    two = len(chart.hands) == 2 and column >= LEAST_COLUMN
    lines = _columns(chart, min(column, 60)) if two else _list(chart, width)
    return Text("\n").join([*lines, Text(""), *_legend(chart, width)])


def _columns(chart: Chart, column: int) -> list[Text]:
    left, right = chart.hands
    lines = [
        Text(f"{left.upper() + ' HAND':<{column}}{'s':>7}  {right.upper()} HAND", style="bold"),
        _rule(column, "┬"),
    ]
    for start, row in _rows(chart):
        pair = zip_longest(_cell(chart, left, start, row, column), _cell(chart, right, start, row, column))
        for at, (one, other) in enumerate(pair):
            line = one or _going(chart, left, start, column)
            line.append(f"{seconds(start) if at == 0 else '':>7}  ", style="dim")
            line.append_text(other or _going(chart, right, start, column))
            line.rstrip()
            lines.append(line)
    return [*lines, _rule(column, f" {seconds(chart.makespan_s)} ")]


def _rule(column: int, middle: str) -> Text:
    return Text("─" * column + middle.center(TIME_WIDTH, "─") + "─" * column, style="dim")


def _rows(chart: Chart) -> list[tuple[float, list[Element]]]:
    """Elements by start; those that start together share a line."""
    rows: list[tuple[float, list[Element]]] = []
    for element in sorted(chart.elements, key=lambda e: (e.start_s, e.number)):
        hands = [e.hand for e in rows[-1][1]] if rows else []
        if rows and element.start_s - rows[-1][0] < SAME_START_S and element.hand not in hands:
            rows[-1][1].append(element)
        else:
            rows.append((element.start_s, [element]))
    return rows


def _cell(chart: Chart, hand: str, start: float, row: list[Element], column: int) -> list[Text]:
    for element in row:
        if element.hand == hand:
            return _lines(element, column)
    return [_going(chart, hand, start, column)]


def _going(chart: Chart, hand: str, time: float, column: int) -> Text:
    """A line down the column while an element goes on: broken for a hold or a delay."""
    kinds = [
        e.kind
        for e in chart.elements
        if e.hand == hand and e.start_s <= time < e.start_s + e.duration_s - 1e-9
    ]
    mark = "" if not kinds else ("┊" if kinds[0] in ("hold", "delay") else "│")
    return Text(f"{mark:<{column}}", style="dim")


def _lines(element: Element, column: int) -> list[Text]:
    """Symbol, number, words, duration, each line exactly `column` columns; long words go on below."""
    symbol = symbol_of(element)
    words = wrap(phrase(element), column - 13)
    line = Text(f"{GLYPH[symbol]} ")
    line.append(f"{element.number:>3} ", style="dim")
    line.append(f"{words[0]:<{column - 13}}", style=STYLE[symbol])
    line.append(f"{seconds(element.duration_s):>6} ", style="dim")
    mark = "┊" if symbol in ("hold", "delay") else "│"
    return [line, *(Text(f"{mark:<6}{more}".ljust(column), style="dim") for more in words[1:])]


def _list(chart: Chart, width: int) -> list[Text]:
    """One element a line, for narrow terminals and for cells that do not have two hands."""
    widest = max((len(h) for h in chart.hands), default=4)
    lines = [Text(f"{'s':>6}  {'hand':<{widest}}  element", style="bold"), Text("─" * width, style="dim")]
    for element in sorted(chart.elements, key=lambda e: (e.start_s, e.number)):
        for at, part in enumerate(_lines(element, max(20, width - 10 - widest))):
            line = Text(
                f"{seconds(element.start_s):>6}  {element.hand:<{widest}}  "
                if at == 0
                else " " * (10 + widest)
            )
            line.append_text(part)
            line.rstrip()
            lines.append(line)
    return lines


def _legend(chart: Chart, width: int) -> list[Text]:
    """What the symbols mean, with the number and time of each per hand."""
    summary = summarise(chart)
    wide = max(len("operation"), *(len(h.hand) for h in summary)) + 2
    lines = [Text(" " * 15 + "".join(f"{h.hand:>{wide + 4}}" for h in summary), style="dim")]
    for at, symbol in enumerate(ORDER):
        counts = "".join(
            f"{h.sums[at].count:>4} {seconds(h.sums[at].total_s):>{wide - 3}} s" for h in summary
        )
        lines.append(Text(f"{GLYPH[symbol]}  {symbol:<12}{counts}"[:width]))
    return lines
