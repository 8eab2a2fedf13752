"""Figures show the numbers they are made from."""

from __future__ import annotations

import pytest
from tests.page.example_records import example_ledger, example_reliability
from tests.page.first_fit_chart import first_fit_chart

from handfast.report.figures import budget_figure, hand_utilisation_figure, reliability_figure

CHART = first_fit_chart()


def test_a_budget_has_a_bar_for_each_source_as_long_as_its_sigma() -> None:
    row = example_ledger().rows[0]
    axes = budget_figure(row).axes[0]
    lengths = [bar.get_width() for bar in axes.patches]  # type: ignore[attr-defined]  # rectangles
    assert lengths == pytest.approx([350, 50, 10, 62]), "µm; the last is all of them combined"
    assert [t.get_text() for t in axes.get_yticklabels()][2] == "<bore & drilled> (assumed)"
    assert axes.lines[0].get_xdata()[0] == pytest.approx(512 / 3), "a third of what is allowed"  # type: ignore[index]


def test_prediction_and_trial_stand_beside_each_other() -> None:
    agreed = example_reliability(True)
    axes = reliability_figure((agreed,)).axes[0]
    m = agreed.mates[0]
    band = axes.patches[0]
    assert band.get_x() + band.get_width() == pytest.approx(100 * m.predicted.high)  # type: ignore[attr-defined]
    assert list(axes.lines[0].get_xdata()) == pytest.approx([100 * p for p in m.observed])  # type: ignore[arg-type]


def test_hands_are_drawn_to_scale_and_summed_up() -> None:
    figure = hand_utilisation_figure(CHART)
    lanes, sums = figure.axes
    spans = [p.get_extents() for c in lanes.collections for p in c.get_paths()]
    assert len(spans) == len(CHART.elements)
    assert max(s.x1 for s in spans) == pytest.approx(CHART.makespan_s)
    busy = sum(e.duration_s for e in CHART.elements if e.hand == "left" and e.kind not in ("hold", "delay"))
    assert sums.texts[0].get_text().startswith(f"works {busy:.2f} s")
