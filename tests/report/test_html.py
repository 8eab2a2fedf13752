"""The HTML report: whole, self-contained, and nothing of a record is read as markup."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from html.parser import HTMLParser

import pytest
from tests.report.conftest import FOLDER

from handfast.files.project_reader import read_folder
from handfast.page.make_sheet import make_sheet
from handfast.report.content import ReportInput
from handfast.report.html_report import html_report

VOID = {"meta", "line", "path", "rect", "circle", "image", "br", "link"}


@pytest.fixture(scope="module")
def text(given: ReportInput) -> str:
    sources = read_folder(FOLDER).sources
    return html_report(given, *make_sheet(given.page.project, sources, given.notes, given.page))


class Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.scripts: dict[str, str] = {}
        self._script: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag not in VOID:
            self.open.append(tag)
        if given.get("id"):
            self.ids.append(given["id"] or "")
        self.links += [v or "" for k, v in attrs if k in ("href", "src", "action", "data")]
        self._script = given.get("id") or "program" if tag == "script" else None

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.links += [v or "" for k, v in attrs if k in ("href", "src")]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self._script is not None and self.open and self.open[-1] == "script":
            self.scripts[self._script] = self.scripts.get(self._script, "") + data


@pytest.fixture(scope="module")
def read(text: str) -> Reader:
    reader = Reader()
    reader.feed(text)
    assert reader.open == [], "everything that is opened is closed"
    return reader


def test_every_section_is_there_and_linked(read: Reader) -> None:
    sections = {"job", "assumptions", "parts", "workplace", "chart", "ledger", "trials", "proof", "loading",
                "windows", "control-plan", "failure-modes", "made-from", "cautions"}  # fmt: skip
    assert sections <= set(read.ids)
    assert {link[1:] for link in read.links if link.startswith("#")} == sections - {"cautions"}
    assert len(read.ids) == len(set(read.ids))


def test_nothing_is_fetched(read: Reader, text: str) -> None:
    assert all(link.startswith(("#", "data:")) for link in read.links)
    assert "default-src 'none'" in text
    assert "connect-src" not in text


def test_only_the_one_script_may_run(read: Reader, text: str) -> None:
    """CSP level 3: the base64 sha256 of what stands between the tags."""
    digest = base64.b64encode(hashlib.sha256(read.scripts["program"].encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in text


def test_the_cell_is_in_the_file(read: Reader, given: ReportInput) -> None:
    sheet = json.loads(read.scripts["sheet-data"])
    assert len(sheet["chart"]["elements"]) == len(given.page.chart.body.elements)
    assert sheet["project"]["folder"] == "", "where it lay is nobody's business"
    assert base64.b64decode(read.scripts["geometry-data"])[:4] == b"glTF"


def test_text_of_records_stays_text(text: str, read: Reader) -> None:
    assert "&lt;bore &amp; drilled&gt;" in text
    assert "<bore" not in text
    assert "sources.<nest>" in json.dumps(json.loads(read.scripts["sheet-data"]))
    assert str(FOLDER) not in re.sub(r"[A-Za-z0-9+/=]{500,}", "", text)
