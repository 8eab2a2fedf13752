"""The PDF, read and rendered by an independent library (pdfium): all text is there, no page is empty."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
import pypdfium2
import pytest

from handfast.page.page_input import PageInput
from handfast.report.content import ReportInput, Table
from handfast.report.contents import after_the_ledger, before_the_chart
from handfast.report.paper import MARGIN, PAGE
from handfast.report.pdf_report import pdf_report


@pytest.fixture(scope="module")
def data(given: ReportInput) -> bytes:
    return pdf_report(given)


@pytest.fixture(scope="module")
def pages(data: bytes) -> Iterator[list[pypdfium2.PdfPage]]:
    document = pypdfium2.PdfDocument(data)
    found = [document[i] for i in range(len(document))]
    yield found
    for page in found:
        page.close()
    document.close()


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text.replace("\ufffe", "-"))


def test_every_cell_of_every_table_is_on_the_paper(
    pages: list[pypdfium2.PdfPage], given: ReportInput
) -> None:
    """Text that a cell clips or a page loses would be missing."""
    text = squeezed("".join(page.get_textpage().get_text_bounded() for page in pages))
    made = [*before_the_chart(given), *after_the_ledger(given)]
    cells = [c for s in made for b in s.blocks if isinstance(b, Table) for row in b.rows for c in row if c]
    assert len(cells) > 200
    missing = [c for c in cells if squeezed(c) not in text]
    assert missing == []
    for element in given.page.chart.body.elements:
        assert squeezed(f"{element.kind}{element.object}") in text


def test_all_letters_stand_within_the_margins(pages: list[pypdfium2.PdfPage]) -> None:
    for number, page in enumerate(pages, 1):
        assert page.get_size() == pytest.approx(PAGE, abs=0.5), "A4 across"
        letters = page.get_textpage()
        boxes = [letters.get_charbox(i) for i in range(letters.count_chars())]
        drawn = np.array([b for b in boxes if b[2] > b[0]])
        assert drawn[:, 0].min() > MARGIN - 1.5, number
        assert drawn[:, 2].max() < PAGE[0] - MARGIN + 1.5, number
        assert drawn[:, 1].min() > 0, number
        assert drawn[:, 3].max() < PAGE[1], number


def test_no_two_letters_lie_on_each_other(pages: list[pypdfium2.PdfPage]) -> None:
    """Cells that are too narrow write over their neighbours: then the middles of letters fall together."""
    for number, page in enumerate(pages, 1):
        letters = page.get_textpage()
        boxes = np.array([letters.get_charbox(i) for i in range(letters.count_chars())])
        drawn = boxes[(boxes[:, 2] - boxes[:, 0]) > 0.5]
        middles = np.stack([drawn[:, [0, 2]].mean(axis=1), drawn[:, [1, 3]].mean(axis=1)], axis=1)
        near = np.abs(middles[:, None] - middles[None]).max(axis=-1) < 0.7
        assert near.sum() == len(middles), number


def test_no_page_is_empty(pages: list[pypdfium2.PdfPage]) -> None:
    """Ink below the top and above the foot, rendered."""
    assert len(pages) > 6
    for number, page in enumerate(pages, 1):
        image = page.render(scale=0.5).to_numpy()[..., :3]
        body = image[10 : int(image.shape[0] * 0.92)]
        assert (body.min(axis=-1) < 200).mean() > 0.004, f"page {number} is empty"


def test_each_page_says_which_of_how_many(pages: list[pypdfium2.PdfPage]) -> None:
    for number, page in enumerate(pages, 1):
        text = page.get_textpage().get_text_bounded()
        assert f"page {number} of {len(pages)}" in text
        assert "Not a safety function" in text
    assert "emergency stop" in pages[0].get_textpage().get_text_bounded()


def test_equal_reports_are_equal_files(given: ReportInput, data: bytes) -> None:
    assert pdf_report(given) == data


def test_of_a_chart_alone_it_says_what_is_missing(given: ReportInput) -> None:
    page = given.page
    alone = pdf_report(ReportInput(PageInput(page.project, page.chart, page.chart_sha256)))
    with pypdfium2.PdfDocument(alone) as document:
        text = squeezed("".join(p.get_textpage().get_text_bounded() for p in document))
    for said in ("not verified", "not budgeted", "not tried", "Control plan", "Versions and hashes"):
        assert squeezed(said) in text
    assert "Fitledger" not in text
