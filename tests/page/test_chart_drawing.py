"""The chart as a drawing: an entry per element, to scale, nothing on top of anything."""

from __future__ import annotations

import itertools
import xml.etree.ElementTree as ET

import pytest
from tests.page.first_fit_chart import first_fit_chart

from handfast.model.chart import Chart
from handfast.page.chart_drawing import chart_drawing
from handfast.page.hand_summary import summarise
from handfast.page.process_symbol import symbol_of

CHART = first_fit_chart()


def drawn(chart: Chart) -> ET.Element:
    return ET.fromstring(chart_drawing(chart, {16: "margin 1.9"}))


def entries(root: ET.Element) -> dict[int, ET.Element]:
    found = [g for g in root.iter("g") if (g.get("id") or "").startswith("element-")]
    return {int(str(g.get("id"))[8:]): g for g in found}


def part(entry: ET.Element, kind: str) -> ET.Element:
    return next(e for e in entry if e.get("class") == kind)


def test_every_element_is_drawn_once_with_its_symbol() -> None:
    found = entries(drawn(CHART))
    assert sorted(found) == [e.number for e in CHART.elements]
    for element in CHART.elements:
        assert found[element.number].get("class") == symbol_of(element)


def test_bars_are_to_scale() -> None:
    found = entries(drawn(CHART))
    bars = {n: part(g, "bar") for n, g in found.items()}
    tops = {e.number: float(str(bars[e.number].get("y"))) for e in CHART.elements}
    scale = (tops[31] - tops[1]) / (CHART.elements[30].start_s - CHART.elements[0].start_s)
    for element in CHART.elements:
        assert tops[element.number] - tops[1] == pytest.approx(element.start_s * scale, abs=0.11)
        height = float(str(bars[element.number].get("height")))
        assert height == pytest.approx(max(2.0, element.duration_s * scale - 1.5), abs=0.11)


def test_left_is_left_and_right_is_right() -> None:
    found = entries(drawn(CHART))
    for element in CHART.elements:
        x = float(str(part(found[element.number], "bar").get("x")))
        assert (x < 560) == (element.hand == "left")


def test_labels_do_not_lie_on_each_other() -> None:
    found = entries(drawn(CHART))
    for hand in CHART.hands:
        rows = [float(str(part(found[e.number], "words").get("y"))) for e in CHART.elements if e.hand == hand]
        assert all(b - a >= 21.9 for a, b in itertools.pairwise(rows))


def test_a_note_stands_with_its_element() -> None:
    note = next(part(entries(drawn(CHART))[16], "words").iter("tspan"))
    assert note.text == "margin 1.9"


def test_the_handover_crosses_from_hand_to_hand() -> None:
    assert len([e for e in drawn(CHART).iter("line") if e.get("class") == "handover"]) == 2


def test_the_summary_counts_all_time() -> None:
    for hand in summarise(CHART):
        assert sum(s.count for s in hand.sums) == sum(e.hand == hand.hand for e in CHART.elements)
        assert sum(s.total_s for s in hand.sums) + hand.idle_s == pytest.approx(CHART.makespan_s)
