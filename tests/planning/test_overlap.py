"""Both hands at once on first-fit: shorter, and the independent proof agrees."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.planning import plan
from handfast.proof import verify

FIRST_FIT = Path(__file__).parents[2] / "projects" / "first-fit"


@pytest.fixture(scope="module")
def checked() -> CheckedProject:
    found = check_folder(str(FIRST_FIT))
    assert isinstance(found, CheckedProject)
    return found


@pytest.fixture(scope="module")
def together(checked: CheckedProject) -> Chart:
    chart = plan(checked, seed=7, together=True)
    assert isinstance(chart, Chart)
    return chart


def test_hands_overlap_and_the_cycle_is_shorter(checked: CheckedProject, together: Chart) -> None:
    alone = plan(checked, seed=7)
    assert isinstance(alone, Chart)
    working = [e for e in together.elements if e.motions]
    left = [e for e in working if e.hand == "left"]
    right = [e for e in working if e.hand == "right"]
    both = sum(
        max(0.0, min(a.start_s + a.duration_s, b.start_s + b.duration_s) - max(a.start_s, b.start_s))
        for a in left
        for b in right
    )
    assert both > 2.0
    assert together.lower_bound_s <= together.makespan_s < 0.85 * alone.makespan_s


def test_each_hand_keeps_its_own_order_without_overlap(together: Chart) -> None:
    for hand in together.hands:
        own = [e for e in together.elements if e.hand == hand]
        assert all(a.start_s + a.duration_s <= b.start_s + 1e-6 for a, b in pairwise(own))


def test_no_line_of_the_chart_tells_of_rounding(together: Chart) -> None:
    """A wait shorter than a step of the time grid is no wait of anyone."""
    waits = [e.duration_s for e in together.elements if e.kind in ("hold", "delay")]
    assert waits
    assert min(waits) > 0.02


def test_the_proof_holds_with_both_arms_moving(checked: CheckedProject, together: Chart) -> None:
    proof = verify(checked.project, together, "0" * 64)
    assert proof.holds, [v.text for v in proof.violations]
