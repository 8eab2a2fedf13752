"""How a report is set on paper: fonts, styles, tables that go on over pages, pictures (ReportLab)."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import matplotlib
from matplotlib.figure import Figure
from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4, landscape
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Image, LongTable, Paragraph, TableStyle

from handfast.report.content import Picture, Table
from handfast.report.quantities import unbroken

PAGE = landscape(A4)
MARGIN = 14 * mm
WIDTH = PAGE[0] - 2 * MARGIN
INK, SOFT, RULE, FAINT, WARN = (HexColor(c) for c in ("#17212a", "#505c66", "#b9c1c4", "#e6e9e8", "#9c1c2b"))
LEFT_HAND, RIGHT_HAND = HexColor("#0b627f"), HexColor("#9a4310")
_DPI = 200
# matplotlib brings a font with every sign a report needs (Greek, arrows); reportlab's own have none of these.
_FONTS = {"Plain": "DejaVuSans.ttf", "Bold": "DejaVuSans-Bold.ttf", "Mono": "DejaVuSansMono.ttf"}


def use_fonts() -> None:
    """Known to the PDF library from now on."""
    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    for name, file in _FONTS.items():
        pdfmetrics.registerFont(TTFont(name, str(folder / file)))
    pdfmetrics.registerFontFamily("Plain", normal="Plain", bold="Bold", italic="Plain", boldItalic="Bold")


def style(size: float = 8.0, **more: Any) -> ParagraphStyle:
    """Plain text of that size [pt]."""
    given = {"fontName": "Plain", "textColor": INK, "leading": size * 1.32, "fontSize": size, **more}
    return ParagraphStyle("own", **given)


TITLE = {"size": 15.0, "fontName": "Bold", "spaceBefore": 4 * mm, "spaceAfter": 2.5 * mm, "keepWithNext": 1}
_CELL, _HEAD, _FIRST = 7.2, 7.0, 7.2


def paragraph(text: str, **how: Any) -> Paragraph:
    """Text as it is: nothing in it is read as markup."""
    size = how.pop("size", 8.5)
    return Paragraph(marked(text), style(size, **how))


def marked(text: str) -> str:
    """Escaped for the PDF library, which reads markup."""
    return unbroken(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def table(made: Table, width: float = WIDTH) -> LongTable:
    """A table with its head on each page, that wide [pt]."""
    mono = made.kind == "hashes"
    body = style(_CELL, splitLongWords=1)
    first = style(_FIRST, fontName="Bold", splitLongWords=1)
    cells = style(6.6, fontName="Mono") if mono else body
    head = [Paragraph(marked(h), style(_HEAD, fontName="Bold", textColor=SOFT)) for h in made.head]
    rows = [
        [Paragraph(marked(row[0]), first), *(Paragraph(marked(c), cells) for c in row[1:])]
        for row in made.rows
    ]
    total = sum(made.widths)
    widths = [width * w / total for w in made.widths]
    return LongTable([head, *rows], colWidths=widths, repeatRows=1, style=ruled(), hAlign="LEFT",
                     spaceBefore=1.5 * mm, spaceAfter=3 * mm)  # fmt: skip


def ruled(*more: tuple[Any, ...]) -> TableStyle:
    """Thin rules between rows, a strong one under the head."""
    return TableStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, 0), 0.8, INK),
        ("LINEBELOW", (0, 1), (-1, -1), 0.3, RULE), ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 6), ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5), *more,
    ])  # fmt: skip


def figure(drawn: Figure, width: float) -> Image:
    """A matplotlib figure, that wide on the paper [pt]."""
    data = io.BytesIO()
    drawn.savefig(data, format="png", dpi=_DPI, metadata={"Software": None})
    data.seek(0)
    across, up = drawn.get_size_inches()
    return Image(data, width, width * up / across, hAlign="LEFT")


class LabelledPicture(Image):  # type: ignore[misc]  # the library has no types
    """A picture with names at points of it."""

    def __init__(self, picture: Picture, width: float) -> None:
        super().__init__(io.BytesIO(picture.png), width, width * picture.height / picture.width, mask="auto")
        self.hAlign = "LEFT"
        self._names, self._scale = picture.labels, width / picture.width

    def draw(self) -> None:
        """The picture, then its names over it."""
        super().draw()
        canvas = self.canv
        canvas.setFont("Plain", 7)
        for text, x, y in self._names:
            at = x * self._scale, self.drawHeight - y * self._scale
            wide = pdfmetrics.stringWidth(text, "Plain", 7)
            canvas.setFillColor(HexColor("#ffffff"))
            canvas.rect(at[0] - wide / 2 - 1.5, at[1] - 2, wide + 3, 9, stroke=0, fill=1)
            canvas.setFillColor(INK)
            canvas.drawCentredString(*at, text)
        canvas.setStrokeColor(RULE)
        canvas.rect(0, 0, self.drawWidth, self.drawHeight, fill=0)


RIGHT = TA_RIGHT
