#!/usr/bin/env python3
"""Take the screenshots of the live page that stand in docs/page/: its main views, small and large.

usage: .venv/bin/python tools/draw_page.py [PROJECT ...]    of both examples, if none is named; plans, proves,
budgets, tries and runs a copy first, unless the folder has records. Needs a headless Chromium
(CHROMIUM=path, or `chromium` on the PATH).
"""

from __future__ import annotations

import io
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Literal

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).resolve().parent.parent
OUT = ROOT / "docs" / "page"
SIZES = {"1280x800": (1280, 800), "3840x2160": (3840, 2160)}
SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
FLAGS = ("--enable-unsafe-swiftshader", "--no-sandbox")
MATES = {"first-fit": "pin-in-bore", "dosing-pump": "drive-gear-in-block"}
VERBS = (
    ["plan", "--seed", "7"],
    ["verify"],
    ["budget"],
    ["trial", "--builds", "50", "--seed", "7"],
    ["trial", "--builds", "50", "--seed", "7", "--no-touches"],
    ["run", "--seed", "7"],
)


def main() -> None:
    """Draw all of them."""
    chromium = os.environ.get("CHROMIUM") or shutil.which("chromium")
    if chromium is None:
        sys.exit("expected a Chromium (CHROMIUM=path, or `chromium` on the PATH), found none")
    projects = [Path(x) for x in sys.argv[1:]] or [ROOT / "projects" / name for name in MATES]
    OUT.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=list(FLAGS))
        for project in projects:
            copy = Path(shutil.copytree(project, Path(folder) / project.name))
            for verb in VERBS if not (copy / "records" / "run-log.json").exists() else ():
                handfast(verb[0], str(copy), *verb[1:])
            with served(copy) as address:
                drawn(browser, address, project.name)
        browser.close()


def drawn(browser: Browser, address: str, project: str) -> None:
    """All views of one project."""
    for name, (width, height) in SIZES.items():
        for scheme in SCHEMES:
            page = browser.new_page(viewport={"width": width, "height": height}, color_scheme=scheme)
            page.goto(address)
            page.wait_for_selector("body[data-ready]", timeout=60_000)
            views(page, project, f"{name}-{scheme}")
            page.close()


def views(page: Page, project: str, name: str) -> None:
    """The process with a mate chosen, the cut into its bore, the operator's view."""
    page.click(f".entry .mate:has-text('{MATES[project]}')")
    keep(page, f"{project}-process-{name}")
    page.click(".toolbar button:has-text('Section')")
    page.keyboard.press("ArrowLeft")
    for _ in range(5):
        page.keyboard.press("ArrowLeft")
    keep(page, f"{project}-section-{name}")
    page.click(".toolbar button:has-text('Section')")
    page.keyboard.press("Home")
    page.keyboard.press("o")
    keep(page, f"{project}-operator-{name}")


def keep(page: Page, name: str) -> None:
    """One picture, once everything is drawn."""
    page.mouse.move(2, 2)
    page.wait_for_timeout(2500)
    image = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    # Every colour of the page stays as it is (MAXCOVERAGE), those between go to the nearest (kmeans).
    few = image.quantize(256, method=Image.Quantize.MAXCOVERAGE, kmeans=3, dither=Image.Dither.NONE)
    few.save(OUT / f"{name}.png", optimize=True)
    print(f"   {OUT.relative_to(ROOT)}/{name}.png  {(OUT / f'{name}.png').stat().st_size // 1000} kB")


def handfast(*words: str) -> None:
    """Run a verb; ends here if its input cannot be used."""
    program = [sys.executable, "-c", "from handfast.cli import main; main()", *words]
    done = subprocess.run(program, cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode > 1:
        sys.exit(done.stderr)


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """The address of the live page of a folder."""
    program = "from handfast.cli import main; main()"
    words = [sys.executable, "-c", program, "page", str(folder), "--no-browser", "--json"]
    process = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
    try:
        if process.stdout is None:
            sys.exit("the page does not answer")
        text = ""
        while not text.rstrip().endswith("}"):
            text += process.stdout.readline()
        yield json.loads(text)["address"]
    finally:
        process.terminate()
        process.wait(15)


if __name__ == "__main__":
    main()
