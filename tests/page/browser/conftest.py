"""The real page in a real browser, against the small example with a chart of its own."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from handfast.files.record_json import RECORDS_FOLDER, save
from handfast.workflow.make_chart import is_chart, plan
from handfast.workflow.make_ledger import budget
from handfast.workflow.make_proof import verify
from handfast.workflow.read_project import check, load

FIRST_FIT = Path(__file__).parents[3] / "projects" / "first-fit"
FLAGS = ("--enable-unsafe-swiftshader", "--no-sandbox")  # 3-D without a graphics card; as root in containers


class Open:
    """The page of a folder, served by the program itself in a process of its own."""

    def __init__(self, folder: Path, port: int = 0) -> None:
        program = "from handfast.cli import main; main()"
        words = [sys.executable, "-c", program, "page", str(folder), "--no-browser", "--json"]
        self.folder = folder
        self._process = subprocess.Popen(
            [*words, "--port", str(port)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        assert self._process.stdout is not None
        text = ""
        while not text.rstrip().endswith("}"):
            line = self._process.stdout.readline()
            assert line, "the page was not served"
            text += line
        self.address: str = json.loads(text)["address"]
        self.port = int(self.address.rstrip("/").rsplit(":", 1)[1])

    def close(self) -> None:
        self._process.terminate()
        self._process.wait(15)
        assert self._process.stdout is not None
        self._process.stdout.close()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    found = os.environ.get("CHROMIUM") or shutil.which("chromium")
    if found is None:
        pytest.skip("no Chromium found (CHROMIUM=path, or `chromium` on the PATH)")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=found, args=list(FLAGS))
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def planned_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of first-fit with chart, ledger and proof."""
    where = tmp_path_factory.mktemp("browser") / "first-fit"
    folder = Path(shutil.copytree(FIRST_FIT, where, ignore=shutil.ignore_patterns("records")))
    checked = check(load(folder))
    chart = plan(checked, seed=7)
    assert is_chart(chart)
    for name, record in (
        ("chart", chart),
        ("ledger", budget(checked, chart)),
        ("proof", verify(checked.project, chart)),
    ):
        save(record, folder / RECORDS_FOLDER / f"{name}.json")
    return folder


@pytest.fixture(scope="session")
def served(planned_folder: Path) -> Iterator[Open]:
    page = Open(planned_folder)
    yield page
    page.close()


@pytest.fixture
def complaints() -> list[str]:
    """What the page has said on its console."""
    return []


@pytest.fixture
def opened(browser: Browser, served: Open, complaints: list[str]) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    watch(page, complaints)
    goto(page, served.address)
    yield page
    context.close()


def goto(page: Page, address: str) -> None:
    page.goto(address)
    page.wait_for_selector("body[data-ready]", timeout=30_000)


def watch(page: Page, complaints: list[str]) -> None:
    """Errors of any kind, and warnings; what the driver says about its own speed is not the page's."""

    def heard(message: Any) -> None:
        if message.type in ("error", "warning") and "GL Driver Message" not in message.text:
            complaints.append(message.text)

    page.on("console", heard)
    page.on("pageerror", lambda error: complaints.append(str(error)))
