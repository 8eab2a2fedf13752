"""The report as a PDF, A4 across: a page for reading, printing and signing (ReportLab and matplotlib)."""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Frame,
    Image,
    KeepTogether,
    PageTemplate,
    Spacer,
    Table,
)

from handfast.model.proof import Proof
from handfast.page.cautions import CAUTIONS
from handfast.page.chart_section import notes_of
from handfast.page.hand_summary import summarise
from handfast.page.title_block import boxes
from handfast.page.wording import seconds, short_hash
from handfast.page.workplace import overview_png
from handfast.report.content import Block, Picture, ReportInput, Section, Words
from handfast.report.content import Table as Tabled
from handfast.report.contents import after_the_ledger, before_the_chart
from handfast.report.figures import budget_figure, hand_utilisation_figure, reliability_figure
from handfast.report.ledger_tables import ledger_tables, trial_tables
from handfast.report.paper import (
    INK,
    MARGIN,
    PAGE,
    RULE,
    SOFT,
    TITLE,
    WARN,
    WIDTH,
    LabelledPicture,
    figure,
    paragraph,
    ruled,
    table,
    use_fonts,
)
from handfast.report.paper_chart import paper_chart

_TOP, _BOTTOM = 13 * mm, 15 * mm
_PICTURE = 104 * mm
_SHORT = 8  # rows of a table that is not parted
_LEAST = 45 * mm  # a section does not begin with less than this left on the page


def pdf_report(given: ReportInput) -> bytes:
    """The PDF; equal reports are equal byte by byte. Raises ArmError or MeshError if the cell can no longer
    be read from its folder."""
    use_fonts()
    chart = given.page.chart.body
    out = io.BytesIO()
    document = BaseDocTemplate(
        out, pagesize=PAGE, invariant=1, title=f"{chart.project}: report", author="Handfast", lang="en",
        subject=f"Two-hand process, chart {short_hash(given.page.chart_sha256)}",
    )  # fmt: skip
    frame = Frame(MARGIN, _BOTTOM, WIDTH, PAGE[1] - _TOP - _BOTTOM, 0, 0, 0, 0)
    document.addPageTemplates([PageTemplate("page", [frame])])
    footer = f"{chart.project}   chart {short_hash(given.page.chart_sha256)}, seed {given.page.chart.seed}"
    document.build(list(_story(given)), canvasmaker=lambda *a, **k: _Numbered(footer, *a, **k))
    return out.getvalue()


class _Numbered(Canvas):  # type: ignore[misc]  # the library has no types
    """Pages with a foot that knows how many there are."""

    def __init__(self, footer: str, *words: Any, **named: Any) -> None:
        super().__init__(*words, **named)
        self._footer = footer
        self._kept: list[dict[str, Any]] = []

    def showPage(self) -> None:
        """Keep the page until their number is known."""
        self._kept.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        """Write every page with its foot."""
        for number, page in enumerate(self._kept, 1):
            self.__dict__.update(page)
            self._foot(number, len(self._kept))
            super().showPage()
        super().save()

    def _foot(self, number: int, of: int) -> None:
        y = _BOTTOM - 7 * mm
        self.setStrokeColor(RULE)
        self.line(MARGIN, y + 10, PAGE[0] - MARGIN, y + 10)
        self.setFont("Plain", 7)
        self.setFillColor(SOFT)
        self.drawString(MARGIN, y, self._footer)
        self.drawCentredString(PAGE[0] / 2, y, "Not a safety function: see the cautions on page 1.")
        self.drawRightString(PAGE[0] - MARGIN, y, f"page {number} of {of}")


def _story(given: ReportInput) -> Iterator[Any]:
    page = given.page
    yield from _front(given)
    for made in before_the_chart(given):
        yield from _section(made)
    yield from _chart(given)
    if page.ledger is not None:
        yield from _heading("Fit ledger")
        yield from _blocks(ledger_tables(page.ledger))
        figures = [figure(budget_figure(row), WIDTH * 0.485) for row in page.ledger.rows if row.contributors]
        yield from _two_by_two(figures)
    if page.trials:
        yield from _heading("Simulated builds beside the prediction")
        if page.reliability:
            yield figure(reliability_figure(page.reliability), WIDTH * 0.72)
        yield from _blocks(trial_tables(page.trials))
    if page.proof is not None:
        yield from _section(_proof(page.proof))
    for made in after_the_ledger(given):
        yield from _section(made)


def _front(given: ReportInput) -> Iterator[Any]:
    chart = given.page.chart.body
    yield paragraph("Two-hand process: report", size=9, textColor=SOFT)
    yield paragraph(chart.project, size=24, fontName="Bold", spaceAfter=4 * mm)
    cells = [
        [paragraph(name, size=7, textColor=SOFT), paragraph(value, size=9.5, fontName="Bold")]
        for name, value in boxes(given.page)
    ]
    half = (len(cells) + 1) // 2
    rows = [cells[:half], [*cells[half:], *[""] * (2 * half - len(cells))]]
    box = [("GRID", (0, 0), (-1, -1), 0.4, RULE), ("BOX", (0, 0), (-1, -1), 1.4, INK),
           ("LEFTPADDING", (0, 0), (-1, -1), 5), ("TOPPADDING", (0, 0), (-1, -1), 3)]  # fmt: skip
    yield Table(rows, colWidths=[WIDTH / half] * half, style=ruled(*box), spaceAfter=5 * mm)
    cautions = [paragraph("Cautions", size=11, fontName="Bold", textColor=WARN)]
    cautions += [paragraph(f"–  {text}", size=8.5) for text in CAUTIONS]
    frame = [("BOX", (0, 0), (-1, -1), 1.2, WARN), ("LEFTPADDING", (0, 0), (-1, -1), 8)]
    yield Table([[cautions]], colWidths=[WIDTH], style=frame, spaceAfter=5 * mm)
    data, ratio = overview_png(given.page.project, chart)
    height = 92 * mm
    yield Image(io.BytesIO(data), height / ratio, height, mask="auto")
    yield CondPageBreak(PAGE[1])


def _chart(given: ReportInput) -> Iterator[Any]:
    chart = given.page.chart.body
    yield from _heading("Two-hand chart")
    yield paragraph(
        "○ operation  → transport  □ inspection  ▽ hold  D delay. A dot before its number: on the critical "
        "path, each element of which begins when the one before it ends.",
        size=7.5, textColor=SOFT, spaceAfter=2 * mm,
    )  # fmt: skip
    yield paper_chart(chart, notes_of(given.page))
    yield Spacer(1, 3 * mm)
    yield figure(hand_utilisation_figure(chart), WIDTH * 0.92)
    sums = summarise(chart)
    rows = tuple(
        (s.symbol, *(f"{h.sums[i].count}, {seconds(h.sums[i].total_s)} s" for h in sums))
        for i, s in enumerate(sums[0].sums)
    )
    head = ("symbol", *(f"{h.hand} hand" for h in sums))
    yield table(Tabled("summary", head, rows, (0.2, *(0.2 for _ in sums), 0.6)[: len(head)]))


def _proof(proof: Proof) -> Section:
    said: list[Block] = []
    if proof.holds:
        said.append(
            Words("Nothing wrong was found in any motion, by code that shares nothing with the planner.")
        )
    else:
        rows = tuple(
            (f"element {v.element}", v.kind, f"{seconds(v.time_s)} s", f"{v.a} and {v.b}", v.text)
            for v in proof.violations
        )
        said += [Words("The chart does not hold.", "doubt"), Tabled(
            "violations", ("where", "what", "when", "bodies", "found"), rows, (0.1, 0.14, 0.1, 0.24, 0.42)
        )]  # fmt: skip
    said.append(Words(
        f"Closest pair that may not touch: {proof.closest[0]} and {proof.closest[1]}, "
        f"{1e3 * proof.smallest_clearance:.2f} mm, in element {proof.closest_element}. "
        f"{proof.configurations} configurations checked, distances against motion bounds in between."
    ))  # fmt: skip
    contacts = tuple((f"{c.a} and {c.b}", c.reason, f"{seconds(c.duration_s)} s") for c in proof.contacts)
    if contacts:
        said.append(Tabled("contacts", ("allowed to touch", "because of", "for"), contacts, (0.6, 0.2, 0.2)))
    return Section("proof", "Proof of the motions", tuple(said))


def _section(made: Section) -> Iterator[Any]:
    yield from _heading(made.title)
    yield from _blocks(made.blocks)


def _heading(title: str) -> Iterator[Any]:
    yield CondPageBreak(_LEAST)
    yield paragraph(title, **TITLE)


def _blocks(blocks: tuple[Block, ...]) -> Iterator[Any]:
    """A picture stands beside the table that follows it."""
    left: list[Any] = []
    for block, behind in zip(blocks, [*blocks[1:], None], strict=True):
        if isinstance(block, Picture):
            drawn = LabelledPicture(block, _PICTURE - 4 * mm)
            left = [drawn, paragraph(block.caption, size=7.5, textColor=SOFT, spaceAfter=3 * mm)]
        elif left and isinstance(block, Tabled):
            yield _beside([left, table(block, WIDTH - _PICTURE)], [_PICTURE, WIDTH - _PICTURE])
            left = []
        else:
            yield from _block(block, keep=isinstance(behind, Picture))
    yield from left


def _block(block: Words | Tabled, *, keep: bool) -> Iterator[Any]:
    if isinstance(block, Words):
        colour = {"doubt": WARN, "small": SOFT}.get(block.kind, INK)
        yield paragraph(block.text, size=8.5, textColor=colour, spaceAfter=1.2 * mm, keepWithNext=int(keep))
    else:
        yield KeepTogether([table(block)]) if len(block.rows) <= _SHORT else table(block)


def _two_by_two(images: list[Image]) -> Iterator[Any]:
    """Two beside each other, each pair kept on one page."""
    for i in range(0, len(images), 2):
        pair = [*images[i : i + 2], ""][:2]
        yield _beside(pair, [WIDTH / 2] * 2)


def _beside(cells: list[Any], widths: list[float]) -> Table:
    """Without rules."""
    plain = [("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0)]
    return Table([cells], colWidths=widths, hAlign="LEFT", style=plain)
