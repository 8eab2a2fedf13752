"""The critical path, worked out by hand for the hand-written chart."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.page.first_fit_chart import first_fit_chart

from handfast.page.critical_path import critical_path

CHART = first_fit_chart()


def test_it_goes_from_hand_to_hand_and_never_over_a_wait() -> None:
    assert critical_path(CHART) == (1, 4, 5, 7, 8, 9, 10, 12, 15, 16, 17, 19, 20, 22, 24, 25, 26, 28, 30, 31)


def test_its_elements_fill_the_cycle() -> None:
    """What critical path scheduling asks of it (Kelley and Walker 1959): no float, so no gap."""
    total = sum(CHART.element(n).duration_s for n in critical_path(CHART))
    assert total == pytest.approx(CHART.makespan_s)


def test_what_has_slack_is_not_on_it() -> None:
    """Element 13 ends 4.85 s before anything needs it."""
    shorter = replace(
        CHART,
        elements=tuple(
            replace(e, start_s=e.start_s - 0.2, duration_s=e.duration_s) if e.number in (11, 13) else e
            for e in CHART.elements
        ),
    )
    assert 13 not in critical_path(shorter)
    assert critical_path(shorter) == critical_path(CHART)


def test_idle_time_is_bridged_to_what_ended_last() -> None:
    kept = tuple(e for e in CHART.elements if e.number in (1, 4, 31))
    assert critical_path(replace(CHART, elements=kept)) == (1, 4, 31)
