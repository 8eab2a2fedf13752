"""Bands of readings: as the executor judges, worked out by hand for the hand-written chart."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from tests.page.example_records import example_ledger
from tests.page.first_fit_chart import first_fit_chart

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.ledger import TouchUpdate
from handfast.model.trial import Build, MateTry, TrialReport
from handfast.page.windows import windows

CHART = first_fit_chart()
FOLDER = Path(__file__).parents[2] / "projects" / "first-fit"


def test_each_element_that_measures_has_its_band() -> None:
    checked = check_folder(FOLDER)
    assert isinstance(checked, CheckedProject)
    found = {CHART.elements[i].id: i + 1 for i in range(len(CHART.elements))}
    bands = {found[w.element]: w for w in windows(checked.project, CHART, None)}
    assert {n for n, w in bands.items() if w.event == "width"} == {4, 8, 13, 20}
    assert (bands[4].low, bands[4].high) == pytest.approx((7.5e-3, 8.5e-3)), (
        "a pin of 8 mm, half a millimetre"
    )
    assert (bands[12].low, bands[12].high) == pytest.approx((0.0, 10e-3)), "travel and overtravel"
    assert (bands[16].event, bands[16].unit) == ("insertion", "N")
    assert bands[16].high == pytest.approx(27.0)


def test_a_touch_that_is_budgeted_has_three_sigma() -> None:
    checked = check_folder(FOLDER)
    assert isinstance(checked, CheckedProject)
    touch = CHART.element(12)
    ledger = example_ledger()
    update = TouchUpdate(touch.id, "pin-in-bore", (0.0,) * 6, 0.4e-3)
    with_update = type(ledger)(
        ledger.chart_sha256, ledger.rows, ledger.build_yield, ledger.build_yield_untouched, (update,)
    )
    band = next(w for w in windows(checked.project, CHART, with_update) if w.element == touch.id)
    assert (band.low, band.high) == pytest.approx((6e-3 - 1.2e-3, 6e-3 + 1.2e-3))


def test_what_force_is_usual_is_counted_in_builds_that_went_in() -> None:
    """101 peaks of 0.0 to 10.0 N: 95 % of them lie between 0.25 and 9.75 N."""
    checked = check_folder(FOLDER)
    assert isinstance(checked, CheckedProject)
    tries = [MateTry("pin-in-bore", "ok", "", 0.0, 0.0, 0.1 * i, 0.0) for i in range(101)]
    failed = MateTry("pin-in-bore", "failed", "missed the chamfer", 0.0, 0.0, 99.0, 0.0)
    builds = tuple(Build(i, (t,), 30.0) for i, t in enumerate([*tries, failed]))
    report = TrialReport("", True, builds, (), 101)
    band = next(w for w in windows(checked.project, CHART, None, (report,)) if w.event == "insertion")
    assert band.usual == pytest.approx((0.25, 9.75))
    few = replace(report, builds=builds[:19])
    for other in (few, replace(report, with_touches=False), replace(report, scale=2.0)):
        assert all(w.usual is None for w in windows(checked.project, CHART, None, (other,)))
