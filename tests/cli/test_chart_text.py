"""The chart on the terminal."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from tests.page.first_fit_chart import first_fit_chart

from handfast.cli.chart_text import chart_text
from handfast.page.wording import phrase

CHART = first_fit_chart()


def lines(width: int) -> list[str]:
    return chart_text(CHART, width).plain.splitlines()


@pytest.mark.parametrize("width", [60, 72, 80, 100, 132, 200])
def test_it_fits(width: int) -> None:
    assert max(len(line) for line in lines(width)) <= width


@pytest.mark.parametrize("width", [60, 80, 100, 200])
def test_every_element_has_one_line_with_number_and_words(width: int) -> None:
    text = "\n".join(lines(width))
    for element in CHART.elements:
        found = re.findall(rf"[○→□▽D] +{element.number} {re.escape(element.kind)}\b", text)
        assert len(found) == 1, element


def test_hands_keep_to_their_columns() -> None:
    for line in lines(100):
        for match in re.finditer(r"[○→□▽D] +(\d+) ", line):
            hand = CHART.element(int(match[1])).hand
            assert (match.start() < 50) == (hand == "left")


def test_times_rise_and_end_at_the_makespan() -> None:
    starts = [float(m[1]) for line in lines(100)[2:] if (m := re.match(r".{45} *(\d+\.\d\d)(?:  |$)", line))]
    assert starts == sorted(starts)
    assert len(starts) == len({round(e.start_s, 2) for e in CHART.elements})
    assert any("─ 27.32 ─" in line for line in lines(100))


def test_a_hold_goes_on_down_the_column() -> None:
    """The cover is held while four elements of the other hand start."""
    text = lines(100)
    first = next(i for i, line in enumerate(text) if " 23 hold cover" in line)
    last = next(i for i, line in enumerate(text) if " 27 release cover" in line)
    assert all(line.startswith("┊") for line in text[first + 1 : last])


def test_long_words_are_not_cut() -> None:
    text = " ".join(" ".join(lines(80)).split())
    for word in phrase(CHART.elements[5]).split():
        assert word in text


def test_two_elements_of_one_hand_never_share_a_line() -> None:
    """One that takes no time starts with the next."""
    first = replace(CHART.elements[3], duration_s=0.0)
    crowded = replace(CHART, elements=(first, replace(CHART.elements[4], start_s=first.start_s)))
    text = chart_text(crowded, 100).plain
    assert re.search(r" 4 grasp pin", text)
    assert re.search(r" 5 move pin", text)


def test_one_arm_is_a_list() -> None:
    alone = replace(CHART, hands=("only",), elements=tuple(replace(e, hand="only") for e in CHART.elements))
    text = chart_text(alone, 100).plain
    assert text.count("only ") >= len(CHART.elements)
