"""The page shows the chart that was planned, and its views move together."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import axe_playwright_python
import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, expect
from tests.page.browser.conftest import Open, goto, watch

from handfast.cli.do_report import do_report
from handfast.files.record_json import load
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.page.critical_path import critical_path
from handfast.page.moment import moment
from handfast.workflow.read_project import load as read

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("browser")]  # they share a chart
AXE = Path(axe_playwright_python.__file__).parent / "axe.min.js"  # axe-core


@pytest.fixture
def chart(planned_folder: Path) -> Chart:
    return load(planned_folder / "records" / "chart.json", Chart).body


def current(page: Page) -> int:
    return int(page.locator(".element[aria-current]").get_attribute("data-element") or 0)


def time_of(page: Page) -> float:
    return float(page.evaluate("handfastProbe.time()"))


def test_a_line_for_each_element(opened: Page, chart: Chart, complaints: list[str]) -> None:
    numbers = opened.locator(".chart .element").evaluate_all(
        "rows => rows.map(r => Number(r.dataset.element))"
    )
    assert sorted(numbers) == [e.number for e in chart.elements]
    words = opened.locator("#element-1").text_content() or ""
    assert words.startswith(f"1, transport: {chart.element(1).kind} {chart.element(1).object}")
    expect(opened.locator(".ledger .entry")).to_have_count(len(chart.mates))
    expect(opened.locator(".chart .axis .critical")).to_have_count(len(critical_path(chart)))
    assert complaints == []


def test_hands_and_items_are_where_the_chart_says(opened: Page, chart: Chart, served: Open) -> None:
    """The page's kinematics and scene, in TypeScript, against the kernel's; to 0.1 mm and 1e-4."""
    project = read(served.folder).project
    assert project is not None
    times = np.random.default_rng(7).uniform(0.0, chart.makespan_s, 16)
    assert len({e.kind for t in times for e in chart.elements if e.start_s <= t}) > 5
    for time in times:
        ours = moment(project, chart, float(time))
        shown: dict[str, Any] = opened.evaluate("t => handfastProbe.poses(t)", float(time))
        named = {f"hand {n}": T for n, T in ours.hands.items()} | {
            f"item {n}": T for n, T in ours.items.items()
        }
        assert set(shown) == set(named)
        for name, T in named.items():
            np.testing.assert_allclose(
                np.reshape(shown[name], (4, 4)), T, atol=1e-4, err_msg=f"{name} at {time}"
            )


def test_a_mate_in_the_ledger_moves_chart_and_cell(opened: Page, chart: Chart) -> None:
    start = opened.evaluate("handfastProbe.poses(handfastProbe.time())")
    opened.click(".entry .mate:has-text('pin-in-bore')")
    expect(opened.locator(".entry.open .budget table")).to_be_visible()
    element = chart.element(current(opened))
    assert (element.kind, element.mate) == ("assemble", "pin-in-bore")
    assert element.start_s <= time_of(opened) <= element.start_s + element.duration_s
    expect(opened.locator(f"#element-{element.number}")).to_be_in_viewport()
    now = opened.evaluate("handfastProbe.poses(handfastProbe.time())")
    assert now["item pin"] != start["item pin"]
    expect(opened.locator(".detail")).to_contain_text("product.yaml:")


def test_by_keyboard_alone(opened: Page, chart: Chart) -> None:
    opened.keyboard.press("ArrowDown")
    opened.keyboard.press("ArrowDown")
    assert current(opened) == 2
    opened.keyboard.press("ArrowUp")
    assert current(opened) == 1
    before = time_of(opened)
    opened.keyboard.press("ArrowRight")
    assert time_of(opened) == pytest.approx(before + 0.1)
    opened.keyboard.press("m")
    assert chart.element(current(opened)).mate == chart.mates[1], "the first one was looked at"
    opened.keyboard.press("End")
    assert time_of(opened) == pytest.approx(chart.makespan_s)
    opened.keyboard.press("Home")
    opened.keyboard.press(" ")
    opened.wait_for_timeout(1500)
    assert time_of(opened) > 0.3
    opened.keyboard.press(" ")
    stopped = time_of(opened)
    opened.wait_for_timeout(200)
    assert time_of(opened) == stopped
    opened.keyboard.press("?")
    expect(opened.locator("dialog.keys")).to_be_visible()
    opened.keyboard.press("Escape")
    expect(opened.locator("dialog.keys")).to_be_hidden()


def test_dragging_along_the_time_axis_scrubs(opened: Page, chart: Chart) -> None:
    box = opened.locator(".chart .axis").bounding_box()
    assert box is not None
    opened.mouse.move(box["x"] + box["width"] / 2, 300)
    opened.mouse.down()
    first = time_of(opened)
    opened.mouse.move(box["x"] + box["width"] / 2, 360)
    opened.mouse.up()
    assert 0 < first < time_of(opened) < chart.makespan_s
    opened.locator(".timebar input[type=range]").fill("12.5")
    assert time_of(opened) == pytest.approx(12.5, abs=0.01)


def test_what_is_drawn_on_request(opened: Page, complaints: list[str]) -> None:
    opened.click(".entry .mate:has-text('pin-in-bore')")
    for press in ("Frames", "Paths", "Estimate", "Section"):
        opened.wait_for_timeout(300)
        before = opened.locator(".stage canvas").screenshot()
        opened.click(f".toolbar button:has-text('{press}')")
        opened.wait_for_timeout(300)
        assert opened.locator(".stage canvas").screenshot() != before, press
    expect(opened.locator(".stage .inset svg.fit")).to_be_visible()
    expect(opened.locator(".stage .note")).to_contain_text("20.00 mm past the mouth of block.bore")
    opened.click("button:has-text('Parts')")
    expect(opened.locator("dialog.parts article")).to_have_count(4)
    expect(opened.locator("dialog.parts")).to_contain_text("⌀ 8 mm H7, 24 mm deep, chamfer 0.5 mm at 45 deg")
    assert complaints == []


def test_the_picture_asks_little_of_a_graphics_card(opened: Page) -> None:
    """Frames a second cannot be seen here; draw calls and triangles are counted instead. A body and its edges
    are two calls, a cut face a third."""
    bodies = 36  # of first-fit: links, palms, fingers, parts, tool, holders, table; generous
    opened.wait_for_function("handfastProbe.cost().calls > 40")  # edges come after the first picture
    cost = opened.evaluate("handfastProbe.cost()")
    assert cost["calls"] <= 2 * bodies
    assert 10_000 < cost["triangles"] < 20_000


def test_the_estimate_shrinks_as_jaws_close_and_at_a_touch(opened: Page, chart: Chart, served: Open) -> None:
    """The three axes told and the ellipsoid in the picture, against what the ledger has."""
    rows = load(served.folder / "records" / "ledger.json", Ledger).body.rows
    row = next(r for r in rows if r.mate == "pin-in-bore")
    jaws = {j.element: j for j in row.jaws}
    grasp = next(e for e in chart.elements if e.id in jaws)
    touch = next(e for e in chart.elements if e.id in row.touches)
    opened.click(".entry .mate:has-text('pin-in-bore')")
    opened.click(".toolbar button:has-text('Estimate')")
    opened.locator(".toolbar select").select_option("hand " + grasp.hand)

    def axes(time: float) -> list[int]:
        opened.evaluate("t => handfastProbe.go(t)", time)
        told = opened.locator(".stage .note").inner_text()
        return [int(v) for v in told.split("three sigma ")[1].split(" µm")[0].split(" × ")]

    def expected(matrix: Sequence[Sequence[float]]) -> list[int]:
        values = np.linalg.eigvalsh(np.array(matrix)[:3, :3])
        return [round(3e6 * float(np.sqrt(v))) for v in values]

    end = grasp.start_s + grasp.duration_s
    lay, between, held = axes(grasp.start_s - 0.01), axes(end - grasp.duration_s / 2), axes(end + 0.01)
    assert lay == pytest.approx(expected(jaws[grasp.id].before), abs=1)
    assert held == pytest.approx(expected(jaws[grasp.id].after), abs=1)
    assert lay[1] > between[1] > 2 * held[1]
    opened.wait_for_timeout(300)
    small = ellipsoid(opened)
    opened.evaluate("t => handfastProbe.go(t)", end - grasp.duration_s)
    opened.wait_for_timeout(300)
    assert ellipsoid(opened) > 1.5 * small > 0
    before, after = axes(touch.start_s + 0.01), axes(touch.start_s + touch.duration_s + 0.01)
    assert before == pytest.approx(expected(row.before.covariance), abs=1)
    assert after == pytest.approx(expected(row.after.covariance), abs=1)
    assert after[2] < before[2]


def ellipsoid(page: Page) -> int:
    """How many points of the picture change when the estimate is not drawn."""
    shots = []
    for _ in range(2):
        shots.append(
            np.asarray(Image.open(io.BytesIO(page.locator(".stage canvas").screenshot())).convert("RGB"))
        )
        page.click(".toolbar button:has-text('Estimate')")
        page.wait_for_timeout(300)
    high = shots[0].shape[0] - 40  # the note lies over the lowest
    return int(np.count_nonzero((shots[0] != shots[1])[:high].any(axis=2)))


REACHED = """() => {
    const e = document.activeElement, box = e.getBoundingClientRect(), style = getComputedStyle(e);
    if (e === document.body) return null;
    (window.reached ??= new Set()).add(e);
    const inside = box.bottom > 0 && box.top < innerHeight && box.width > 0;
    const seen = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
    return {seen: seen && inside, name: `${e.tagName} ${e.className} ${e.textContent.slice(0, 40)}`};
}"""
MISSED = """() => [...document.querySelectorAll("button, select, input, a[href], summary, [tabindex]")]
    .filter((e) => e.checkVisibility() && !e.disabled && e.tabIndex >= 0 && !window.reached.has(e))
    .map((e) => `${e.tagName} ${e.className} ${e.textContent.slice(0, 40)}`)"""


@pytest.mark.parametrize("view", ["process", "why", "operator"])
def test_everything_is_reached_by_tab_and_seen_to_be(opened: Page, view: str) -> None:
    """Once around the page: each thing that can be used has the focus once, in sight and outlined (WCAG
    2.1.1, 2.4.7)."""
    opened.keyboard.press("m")
    if view != "process":
        opened.keyboard.press({"why": "w", "operator": "o"}[view])
    opened.evaluate("document.activeElement.blur()")
    for _ in range(80):
        opened.keyboard.press("Tab")
        at = opened.evaluate(REACHED)
        if at is None:
            break
        assert at["seen"], at["name"]
    assert at is None, "the focus does not come round"
    assert opened.evaluate(MISSED) == []


def tab_to(page: Page, selector: str) -> None:
    """By Tab alone."""
    for _ in range(80):
        page.keyboard.press("Tab")
        if page.evaluate("s => document.activeElement.matches(s)", selector):
            return
    raise AssertionError(f"{selector} is not reached")


def test_a_build_is_loaded_started_and_stopped_by_keyboard(opened: Page) -> None:
    opened.keyboard.press("o")
    for _ in range(opened.locator(".operator .limit input").count()):
        tab_to(opened, ".operator .limit input:not(:checked)")
        opened.keyboard.press(" ")
    tab_to(opened, ".operator .start:not(:disabled)")
    opened.keyboard.press("Enter")
    tab_to(opened, ".operator .stop:not(:disabled)")
    opened.keyboard.press("Enter")
    expect(opened.locator(".operator .state")).to_contain_text("stopped by the operator", timeout=60_000)


def test_the_report_opens_from_disk(
    browser: Browser, planned_folder: Path, tmp_path: Path, complaints: list[str], chart: Chart
) -> None:
    """As a file, with nothing served: the cell is drawn and a click on a line of the chart moves it."""
    assert do_report(str(planned_folder), str(tmp_path), pdf=False, as_json=False) == 0
    page = browser.new_page(viewport={"width": 1280, "height": 800})
    watch(page, complaints)
    goto(page, (tmp_path / "first-fit-report.html").as_uri())
    before = page.locator("#cell-view canvas").screenshot()
    element = next(e for e in chart.elements if e.kind == "assemble")
    page.locator(f"#element-{element.number} .bar").dispatch_event("click")
    assert element.start_s < time_of(page) <= element.start_s + element.duration_s
    page.wait_for_timeout(400)
    assert page.locator("#cell-view canvas").screenshot() != before
    assert complaints == []
    page.close()


def test_nothing_that_hinders_anyone(opened: Page) -> None:
    """axe-core's rules, WCAG A and AA, contrast among them: process and operator view, light and dark."""
    opened.click(".entry .mate:has-text('pin-in-bore')")
    opened.click(".whybutton")
    opened.evaluate(AXE.read_text(encoding="utf-8") + "; 0")
    for view in ("process", "operator"):
        if view == "operator":
            opened.keyboard.press("o")
            expect(opened.locator(".operator canvas").first).to_be_visible()
        for _ in ("light", "dark"):
            assert axe(opened) == []
            opened.click("button:has-text('Light or dark')")


def axe(page: Page) -> list[str]:
    """What it has to say, in words."""
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]
    found = page.evaluate("tags => axe.run({runOnly: tags})", tags)
    assert len(found["passes"]) > 15
    first = [(v["id"], v["nodes"][0]) for v in found["violations"]]
    return [f"{name}: {node['html'][:120]}: {node['failureSummary']}" for name, node in first]
