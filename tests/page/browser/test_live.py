"""The page follows the files, proposes changes, runs a build, and comes back after its line was lost."""

from __future__ import annotations

import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from tests.page.browser.conftest import Open, goto, watch

from handfast.files.log_lines import LineWriter
from handfast.files.record_json import load
from handfast.files.run_log_file import LogHead, RunLogWriter
from handfast.model.chart import Chart
from handfast.model.run_log import LogLine, RunLog

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("browser")]  # they share a chart
LONG = 90_000  # planning on a busy machine [ms]


@pytest.fixture
def own(planned_folder: Path, tmp_path: Path) -> Path:
    """A folder that a test may change."""
    return Path(shutil.copytree(planned_folder, tmp_path / "first-fit"))


@pytest.fixture
def live(own: Path) -> Iterator[Open]:
    served = Open(own)
    yield served
    served.close()


@pytest.fixture
def page(browser: Browser, live: Open, complaints: list[str]) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    opened = context.new_page()
    watch(opened, complaints)
    goto(opened, live.address)
    yield opened
    context.close()


def test_a_mistake_is_told_with_its_line_and_the_view_stays(page: Page, own: Path) -> None:
    page.click(".entry .mate:has-text('cover-on-block')")
    time = page.evaluate("handfastProbe.time()")
    product = own / "product.yaml"
    good = product.read_text()
    product.write_text(good.replace("mass: 16 g", "mas: 16 g"))
    line = next(i for i, text in enumerate(good.splitlines(), 1) if "mass: 16 g" in text)
    told = page.locator(".why .finding.error", has_text=f"product.yaml:{line}:")
    expect(told).to_contain_text("mas", timeout=LONG)
    expect(page.locator(".whybutton")).to_contain_text("mistake")
    assert page.evaluate("handfastProbe.time()") == time
    expect(page.locator(".entry.open")).to_contain_text("cover-on-block")
    product.write_text(good)
    expect(page.locator(".why .finding.error")).to_have_count(0, timeout=LONG)
    expect(page.locator(".whybutton")).not_to_contain_text("mistake")
    expect(page.locator(".status")).to_contain_text("mistakes 2 → 0")


def test_why_there_is_no_plan_stands_beside_the_mate_and_the_change_mends_it(page: Page, own: Path) -> None:
    """Jaws that open 40 mm and a cover of 46 mm: told in chart, panel and ledger, with file and line."""
    for record in (own / "records").iterdir():
        record.unlink()  # else the chart of the older files stays, and says so
    cell = own / "cell.yaml"
    cell.write_text(cell.read_text().replace("opening: [0 mm, 70 mm]", "opening: [0 mm, 40 mm]"))
    lines = (own / "product.yaml").read_text().splitlines()
    line = next(i for i, text in enumerate(lines, 1) if text.strip() == "cover-on-block:")
    why, chart = page.locator(".why"), page.locator(".chart .empty")
    expect(page.locator(".whybutton")).to_contain_text("✕ no plan: cover-on-block", timeout=LONG)
    expect(why).to_be_visible()
    cannot = f"cover-on-block cannot be done (at this resolution). product.yaml:{line}"
    expect(why.locator("h2.bad", has_text="No plan")).to_contain_text(cannot)
    expect(why.locator("li").first).to_contain_text("jaw too narrow")
    expect(why.locator("li").first).to_contain_text("cover is 46.0 mm wide")
    expect(why).to_contain_text("The smallest change that works, tried: cell.yaml:")
    expect(chart).to_contain_text(f"No plan for cover-on-block (product.yaml:{line})")
    page.click(".entry .mate:has-text('cover-on-block')")
    beside = page.locator(".entry.open .budget .bad")
    expect(beside).to_contain_text("short by 6.0 mm")
    expect(beside).to_contain_text("cell.yaml:")
    page.click(".why button:has-text('Show as a change of the file')")
    added = page.locator("dialog.edit .diff .added").last
    expect(added).to_contain_text("opening: [0 mm, ")
    page.click("dialog.edit .accept")
    expect(page.locator(".status")).to_contain_text("there is a plan again", timeout=2 * LONG)
    expect(chart).to_have_count(0)
    assert page.locator(".chart .element").count() > 40


def test_an_assumption_stands_in_the_panel_and_beside_its_bar(page: Page, own: Path) -> None:
    """An error source of which nobody knows how large it is."""
    errors = own / "errors.yaml"
    lines = errors.read_text().splitlines(keepends=True)
    at = next(i for i, text in enumerate(lines) if text.lstrip().startswith("sigma:"))
    name = lines[at - 2].strip().rstrip(":")
    lines[at] = "    sigma: unknown\n"
    errors.write_text("".join(lines))
    told = page.locator(".why .finding", has_text=f"errors.yaml:{at + 1}:")
    expect(told).to_contain_text("expected a measured sigma", timeout=LONG)
    expect(told).to_contain_text("fix: measure it, or ask whoever knows")
    expect(page.locator(".whybutton")).to_contain_text("1 remark")
    expect(page.locator(".status")).to_contain_text("margin", timeout=LONG)
    page.click(".entry .mate:has-text('pin-in-bore')")
    expect(page.locator(".entry.open tr", has_text=name)).to_contain_text("assumed")


def test_an_edited_error_source_moves_the_ledger(page: Page, own: Path, complaints: list[str]) -> None:
    margin = page.locator(".entry:has-text('pin-in-bore') .margin").inner_text()
    errors = own / "errors.yaml"
    before = {p.name: p.read_bytes() for p in (own / "records").iterdir()}
    errors.write_text(
        errors.read_text().replace(
            "[0.02 mm, 0.02 mm, 0.02 mm, 0.02 deg", "[0.2 mm, 0.2 mm, 0.2 mm, 0.02 deg"
        )
    )
    expect(page.locator(".status")).to_contain_text("pin-in-bore margin", timeout=LONG)
    assert float(page.locator(".entry:has-text('pin-in-bore') .margin").inner_text()) < float(margin)
    assert {p.name: p.read_bytes() for p in (own / "records").iterdir()} == before, (
        "the page writes no record"
    )
    assert complaints == []


def test_a_change_is_written_when_it_is_accepted(page: Page, own: Path) -> None:
    cell = own / "cell.yaml"
    before = cell.read_text()
    page.click("button:has-text('Propose a change')")
    dialog = page.locator("dialog.edit")
    dialog.locator("select").nth(1).select_option("tray")
    dialog.locator("input[type=number]").first.fill("5")
    dialog.locator("button[type=submit]").click()
    expect(dialog.locator(".diff .added").last).to_contain_text("[-225 mm, 400 mm, 0 mm]")
    assert cell.read_text() == before
    keep_what_is_said(page)
    dialog.locator(".accept").click()
    expect(dialog).to_be_hidden()
    assert cell.read_text() == before.replace("[-230 mm, 400 mm, 0 mm]", "[-225 mm, 400 mm, 0 mm]")
    expect(page.locator("body")).to_have_attribute("data-said", re.compile("saved: cell.yaml"), timeout=LONG)


def keep_what_is_said(page: Page) -> None:
    """All that the line of state says from now on, beside the body: some of it is gone in a moment."""
    page.evaluate(
        """() => {
            const line = document.querySelector(".status");
            const keep = () => (document.body.dataset.said += line.textContent + "; ");
            document.body.dataset.said = "";
            new MutationObserver(keep).observe(line, { childList: true, characterData: true, subtree: true });
        }"""
    )


def load_all(page: Page) -> None:
    """Tick every holder with parts, as one does who has loaded it."""
    ticks = page.locator(".operator .limit input")
    for i in range(ticks.count()):
        ticks.nth(i).check()


def test_the_operator_loads_runs_stops_and_goes_on(page: Page, complaints: list[str]) -> None:
    page.keyboard.press("o")
    row = page.locator(".operator .loading tr", has_text="block").first
    expect(row).to_contain_text("seat")
    expect(row).to_contain_text("1 a build")
    expect(page.locator(".operator .loading canvas")).to_have_count(4)
    expect(page.locator(".operator .caution")).to_contain_text("not a safety function")
    expect(page.locator(".operator .start")).to_be_disabled()
    load_all(page)
    page.click(".operator .start")
    expect(page.locator(".operator .limit input").first).not_to_be_checked()
    expect(page.locator(".operator .log li").nth(2)).to_be_visible(timeout=LONG)
    assert page.evaluate("handfastProbe.time()") > 0
    page.click(".operator .stop")
    state = page.locator(".operator .state")
    expect(state).to_contain_text("stopped by the operator", timeout=LONG)
    words = state.inner_text().split("element ")[1]  # mate/04-move-left: ...
    stopped = int(words.split("/")[1][:2])
    assert stopped > 1

    page.locator(".restart select").select_option("21")
    page.click(".restart .mustbe")
    listed = page.locator(".restart tbody tr")
    expect(listed.filter(has_text="pin")).to_contain_text("in its place on block", timeout=LONG)
    expect(page.locator(".restart .goon")).to_be_disabled()
    page.locator(".restart .confirm input").check()
    page.click(".restart .goon")
    # It stopped before the touch that element 21 leans on: what that showed nobody knows.
    expect(state).to_contain_text("begin with element 12", timeout=LONG)
    page.locator(".restart select").select_option("12")
    page.click(".restart .mustbe")
    expect(listed.filter(has_text="pin")).to_contain_text("in the right hand", timeout=LONG)
    page.locator(".restart .confirm input").check()
    page.click(".restart .goon")
    expect(page.locator(".operator .start")).to_be_disabled()
    expect(page.locator(".readings")).to_contain_text("Run:", timeout=LONG)
    expect(page.locator(".operator .log")).to_contain_text("12 locate", timeout=LONG)
    page.click(".operator .stop")
    expect(state).to_contain_text("stopped by the operator", timeout=LONG)
    assert complaints == []


def test_a_run_in_a_terminal_plays_with_its_readings(page: Page, own: Path) -> None:
    chart = load(own / "records" / "chart.json", Chart).body
    grasp = next(e for e in chart.elements if e.grasp is not None)
    assert grasp.grasp is not None
    log = LineWriter(own / "records" / "run-log.jsonl")
    writer = RunLogWriter(log, LogHead("first-fit", "ab" * 32, "simulated", 1, 7))
    writer.line(LogLine(2.0, grasp.id, "width", (("measured", grasp.grasp.width + 0.9e-3),)))
    writer.line(LogLine(grasp.start_s + grasp.duration_s + 0.25, grasp.id, "done", (), None, grasp.hand))
    strip = page.locator(".runstrip")
    expect(strip).to_contain_text(f"Run: 1 of {len(chart.elements)} elements", timeout=15_000)
    expect(strip).to_contain_text(f"{grasp.number} jaws 8.90 mm ✕")
    expect(strip).to_contain_text("7.50 to 8.50 mm")
    expect(strip).to_contain_text(f"{grasp.hand} +0.25 s")
    assert page.evaluate("handfastProbe.time()") == pytest.approx(grasp.start_s + grasp.duration_s, abs=1e-6)
    writer.end(RunLog("ab" * 32, "simulated", (), "stopped", "look at the pin"))
    log.close()
    expect(strip).to_be_hidden(timeout=15_000)
    page.keyboard.press("o")
    expect(page.locator(".operator .state")).to_contain_text("look at the pin")
    expect(page.locator(".readings tbody tr")).to_have_count(1)


def test_a_trial_in_a_terminal_plays_its_builds(page: Page, own: Path, complaints: list[str]) -> None:
    """A real trial in a process of its own; whoever looks elsewhere is not carried along any more."""
    words = [sys.executable, "-c", "from handfast.cli import main; main()", "trial", str(own)]
    trial = subprocess.Popen([*words, "--builds", "900", "--seed", "3"], stdout=subprocess.DEVNULL)
    try:
        strip = page.locator(".runstrip")
        expect(strip).to_contain_text("Playing build 1", timeout=LONG)
        expect(strip).to_contain_text("of 900")
        expect(strip.locator("svg.trace .felt").first).to_be_attached(timeout=LONG)
        expect(strip.locator("svg.trace .late")).to_have_count(2)
        assert page.evaluate("handfastProbe.time()") > 5
        assert page.locator(".element[aria-current]").count() == 1
        page.click("#element-1")
        expect(strip.locator("button")).to_have_attribute("aria-pressed", "false")
        at = page.evaluate("handfastProbe.time()")
        page.wait_for_timeout(400)
        assert page.evaluate("handfastProbe.time()") == at
    finally:
        trial.send_signal(signal.SIGINT)
        trial.wait(120)
    expect(strip).to_be_hidden(timeout=LONG)
    assert complaints == []


def test_a_lost_line_is_said_and_comes_back(browser: Browser, own: Path) -> None:
    served = Open(own)
    page = browser.new_page()
    goto(page, served.address)
    page.click(".entry .mate:has-text('cover-screw')")
    served.close()
    expect(page.locator(".status")).to_contain_text("Connection lost", timeout=15_000)
    again = Open(own, served.port)
    expect(page.locator("body")).to_have_attribute("data-line", "up", timeout=20_000)
    expect(page.locator(".status")).not_to_contain_text("Connection lost")
    expect(page.locator(".entry.open")).to_contain_text("cover-screw")
    page.close()
    again.close()
