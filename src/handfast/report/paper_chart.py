"""The two-hand chart on paper, as the form is printed: left hand, symbol, time, symbol, right hand."""

from __future__ import annotations

from typing import Any

from reportlab.graphics.shapes import Circle, Drawing, Line, Path, Polygon, Rect
from reportlab.lib.colors import Color, white
from reportlab.lib.units import mm
from reportlab.platypus import LongTable, Paragraph

from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.page.critical_path import critical_path
from handfast.page.process_symbol import ProcessSymbol, symbol_of
from handfast.page.wording import phrase, seconds
from handfast.report.paper import INK, LEFT_HAND, RIGHT, RIGHT_HAND, SOFT, WIDTH, marked, ruled, style

_SAME_START_S = 0.005
_SIDE = (8 * mm, 88 * mm, 12 * mm, 8 * mm)  # number, words, seconds, symbol of the left hand
_TIME = 15 * mm
_LINE = 0.55


def paper_chart(chart: Chart, notes: dict[int, str]) -> LongTable:
    """A row whenever an element starts; of cells with more than two hands the others stand on the right.

    notes: by element number, a few words behind an element's own.
    """
    critical = frozenset(critical_path(chart))
    left, right = chart.hands[0], chart.hands[1:]
    rows: list[list[Any]] = [_head(left, right)]
    for start, row in by_start(chart):
        one = next((e for e in row if e.hand == left), None)
        other = next((e for e in row if e.hand in right), None)
        rows.append([
            *_side(one, notes, critical, LEFT_HAND, chart, left, start),
            Paragraph(seconds(start), style(7.2, alignment=1, textColor=SOFT)),
            *reversed(_side(other, notes, critical, RIGHT_HAND, chart, right[0] if right else "", start)),
        ])  # fmt: skip
    end = Paragraph(f"{seconds(chart.makespan_s)} s", style(7.2, alignment=1, fontName="Bold"))
    rows.append(["", "", "", "", end, "", "", "", ""])
    widths = [*_SIDE, _TIME, *reversed(_SIDE)]
    scale = WIDTH / sum(widths)
    tight = (("RIGHTPADDING", (0, 0), (-1, -1), 2), ("LEFTPADDING", (0, 0), (-1, -1), 2),
             ("TOPPADDING", (0, 1), (-1, -1), 1.2), ("BOTTOMPADDING", (0, 1), (-1, -1), 1.6),
             ("VALIGN", (0, 0), (-1, -1), "MIDDLE"))  # fmt: skip
    return LongTable(
        rows, colWidths=[w * scale for w in widths], repeatRows=1, style=ruled(*tight), hAlign="LEFT"
    )


def by_start(chart: Chart) -> list[tuple[float, list[Element]]]:
    """Elements by start; one of each side that start together share a row."""
    left = chart.hands[0]
    rows: list[tuple[float, list[Element]]] = []
    for element in sorted(chart.elements, key=lambda e: (e.start_s, e.number)):
        sides = [e.hand == left for e in rows[-1][1]] if rows else []
        if rows and element.start_s - rows[-1][0] < _SAME_START_S and (element.hand == left) not in sides:
            rows[-1][1].append(element)
        else:
            rows.append((element.start_s, [element]))
    return rows


def _head(left: str, right: tuple[str, ...]) -> list[Any]:
    def words(text: str, colour: Color, side: int) -> Paragraph:
        return Paragraph(marked(text), style(8, fontName="Bold", textColor=colour, alignment=side))

    others = " and ".join(right)
    plain = [
        Paragraph(t, style(6.6, textColor=SOFT, alignment=1)) for t in ("no.", "s", "start, s", "s", "no.")
    ]
    return [plain[0], words(f"{left} hand", LEFT_HAND, RIGHT), plain[1], "", plain[2], "", plain[3],
            words(f"{others} hand" if others else "", RIGHT_HAND, 0), plain[4]]  # fmt: skip


def _side(
    e: Element | None, notes: dict[int, str], critical: frozenset[int], colour: Color, chart: Chart,
    hand: str, start: float,
) -> list[Any]:  # fmt: skip
    """Number, words, seconds, symbol: what stands in the left half, from the outside in."""
    if e is None:
        return ["", "", "", _going(chart, hand, start, colour)]
    outer = RIGHT if colour is LEFT_HAND else 0
    symbol = symbol_of(e)
    bold = "Bold" if symbol in ("operation", "inspection") else "Plain"
    note = (
        f' <font name="Plain" color="#505c66">{marked(notes[e.number])}</font>' if e.number in notes else ""
    )
    many = f"{e.hand}: " if len(chart.hands) > 2 else ""
    said = f"{marked(many + phrase(e))}{note}"
    text_colour = SOFT if symbol in ("hold", "delay") else INK
    mark = "●" if e.number in critical else ""
    return [
        Paragraph(f"{mark}{e.number}", style(6.8, textColor=SOFT, alignment=1)),
        Paragraph(said, style(7.2, fontName=bold, alignment=outer, textColor=text_colour)),
        Paragraph(seconds(e.duration_s), style(7, textColor=SOFT, alignment=1)),
        _drawn(symbol, colour),
    ]


def _going(chart: Chart, hand: str, time: float, colour: Color) -> Any:
    """A line while the element above goes on."""
    going = [
        e for e in chart.elements if e.hand == hand and e.start_s <= time < e.start_s + e.duration_s - 1e-9
    ]
    if not going:
        return ""
    drawing = Drawing(16, 10)
    waits = symbol_of(going[0]) in ("hold", "delay")
    dashes = [1.5, 2] if waits else None
    drawing.add(Line(8, 0, 8, 10, strokeColor=colour, strokeWidth=0.8, strokeDashArray=dashes))
    return drawing


def _drawn(symbol: ProcessSymbol, colour: Color) -> Drawing:
    """A process symbol (page/process_symbol.py), 10 pt high."""
    drawing = Drawing(16, 10)
    how = {"strokeColor": colour, "fillColor": white, "strokeWidth": 1.1, "strokeLineJoin": 1}
    x, y, u = 8.0, 5.0, 0.78
    if symbol == "operation":
        drawing.add(Circle(x, y, 5.2 * u, strokeColor=colour, fillColor=white, strokeWidth=1.1))
    elif symbol == "transport":
        arrow = [(-5.8, 2.1), (-0.2, 2.1), (-0.2, 5.2), (5.8, 0), (-0.2, -5.2), (-0.2, -2.1), (-5.8, -2.1)]
        drawing.add(Polygon([v for a, b in arrow for v in (x + a * u, y + b * u)], **how))
    elif symbol == "inspection":
        drawing.add(Rect(x - 4.8 * u, y - 4.8 * u, 9.6 * u, 9.6 * u, **how))
    elif symbol == "hold":
        corners = [(-5.8, 4.8), (5.8, 4.8), (0, -5.2)]
        drawing.add(Polygon([v for a, b in corners for v in (x + a * u, y + b * u)], **how))
    else:
        drawing.add(_half_disc(x - 4.4 * u, y, 5 * u, 3.8 * u, how))
    return drawing


def _half_disc(x: float, y: float, radius: float, straight: float, how: dict[str, Any]) -> Path:
    """The D: a straight back, a round front."""
    k = _LINE * radius
    path = Path(**how)
    path.moveTo(x, y - radius)
    path.lineTo(x + straight, y - radius)
    path.curveTo(x + straight + k, y - radius, x + straight + radius, y - k, x + straight + radius, y)
    path.curveTo(x + straight + radius, y + k, x + straight + k, y + radius, x + straight, y + radius)
    path.lineTo(x, y + radius)
    path.closePath()
    return path
