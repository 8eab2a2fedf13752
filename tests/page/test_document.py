"""The page: whole, self-contained, safe, and readable in light and dark."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from importlib.resources import files
from pathlib import Path

import pytest
from tests.page.example_records import (
    CHART_SHA256,
    example_ledger,
    example_proof,
    example_reliability,
    example_trial,
)
from tests.page.first_fit_chart import first_fit_chart

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.project import Project
from handfast.model.record import Record
from handfast.page import workplace
from handfast.page.document import document
from handfast.page.page_input import PageInput, Saved

CHART = first_fit_chart()
FOLDER = Path(__file__).parents[2] / "projects" / "first-fit"
EMPTY = {"meta", "line", "path", "rect", "circle", "image", "br", "link", "img"}


@pytest.fixture(scope="module")
def project() -> Project:
    checked = check_folder(FOLDER)
    assert isinstance(checked, CheckedProject)
    return checked.project


def full(project: Project) -> PageInput:
    return PageInput(
        project,
        Record("chart", 1, "0.1.0", (), 7, CHART),
        CHART_SHA256,
        example_proof(),
        example_ledger(),
        (example_trial(True), example_trial(False)),
        (example_reliability(True), example_reliability(False)),
        (Saved("chart", CHART_SHA256),),
    )


@pytest.fixture(scope="module")
def text(project: Project) -> str:
    return document(full(project))


@pytest.fixture
def _small_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    """Quicker, where a test does not look at them."""
    monkeypatch.setattr(workplace, "OVERVIEW", (86, 56))
    monkeypatch.setattr(workplace, "CLOSE_UP", (64, 48))


class Outline(HTMLParser):
    """Open tags, to see that each is closed; all attributes; all text."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.attributes: list[tuple[str, str]] = []
        self.ids: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in EMPTY:
            self.open.append(tag)
        self.attributes += [(k, v or "") for k, v in attrs]
        self.ids += [v or "" for k, v in attrs if k == "id"]

    def handle_endtag(self, tag: str) -> None:
        if tag not in EMPTY:
            assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def outline(text: str) -> Outline:
    parser = Outline()
    parser.feed(text)
    parser.close()
    return parser


def test_every_tag_is_closed_and_every_id_is_one(text: str) -> None:
    seen = outline(text)
    assert seen.open == []
    assert len(seen.ids) == len(set(seen.ids))


def test_as_many_lines_as_elements(text: str) -> None:
    assert len(re.findall(r'id="element-\d+"', text)) == len(CHART.elements)
    assert text.count('<tr><th scope="row">') >= len(CHART.elements)


def test_nothing_is_fetched_and_nothing_runs(text: str) -> None:
    for name, value in outline(text).attributes:
        if name in ("src", "href", "xlink:href", "action", "data", "poster"):
            assert value.startswith(("data:image/png;base64,", "#"))
        assert not name.startswith("on")
    assert not re.search(r"<script|@import|url\((?!#)|//[a-z]", text.split("</style>")[0])
    assert "default-src 'none'" in text


def test_the_figures_of_the_records_are_on_it(text: str) -> None:
    seen = outline(text).text
    for figure in (
        "27.32 s",
        "21.40 s",
        "6.2 mm",
        "2.75",
        "360 µm",
        "62 µm",
        "99.1 to 99.8 %",
        "50 of 50",
        "42 of 50",
    ):
        assert figure in seen
    assert "missed the chamfer (8)" in seen
    assert "no row for this kind" in seen
    assert "enters 2 times, counted once" in seen


def test_the_cautions_are_on_it(text: str) -> None:
    seen = outline(text).text
    for word in (
        "not a safety function",
        "ISO 10218",
        "competent person",
        "emergency stop",
        "never safety limits",
    ):
        assert word in seen


@pytest.mark.usefixtures("_small_pictures")
def test_what_users_write_is_shown_not_obeyed(project: Project) -> None:
    evil = "<script>alert(1)</script>"
    elements = (replace(CHART.elements[0], object=evil, target=f'"{evil}'), *CHART.elements[1:])
    page = full(replace(project, name=evil))
    page = replace(
        page, chart=Record("chart", 1, "0.1.0", (), 7, replace(CHART, project=evil, elements=elements))
    )
    made = document(page)
    assert "<script" not in made
    assert evil in outline(made).text
    assert outline(made).open == []


@pytest.mark.usefixtures("_small_pictures")
def test_a_chart_alone_makes_a_page(project: Project) -> None:
    page = PageInput(project, Record("chart", 1, "0.1.0", (), 7, CHART), CHART_SHA256)
    seen = outline(document(page))
    assert seen.open == []
    assert "not verified" in seen.text
    assert "not budgeted" in seen.text


@pytest.mark.usefixtures("_small_pictures")
def test_a_proof_that_fails_is_not_hidden(project: Project) -> None:
    seen = outline(document(replace(full(project), proof=example_proof(holds=False)))).text
    assert "fails: 1 found" in seen
    assert "left forearm runs into stand" in seen


def palette(dark: bool) -> dict[str, str]:
    style = files("handfast.page").joinpath("sheet.css").read_text(encoding="utf-8")
    light_block, dark_block = re.findall(r":root \{(.*?)\}", style, re.DOTALL)[:2]
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", dark_block if dark else light_block))


def luminance(colour: str) -> float:
    # WCAG 2.1, relative luminance.
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    # WCAG 2.1, contrast ratio; black on white is 21.
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("dark", [False, True])
def test_text_contrast_is_aa(dark: bool) -> None:
    colours = palette(dark)
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    for ink in ("ink", "soft", "left", "right", "warn"):
        for ground in ("paper", "box"):
            assert contrast(colours[ink], colours[ground]) >= 4.5, (ink, ground)  # WCAG 2.1, 1.4.3 (AA)
    for mark in ("left", "right", "warn", "good", "soft"):
        assert contrast(colours[mark], colours["box"]) >= 3.0, mark  # WCAG 2.1, 1.4.11 (graphics)
