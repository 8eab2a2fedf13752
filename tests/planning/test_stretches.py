"""A long sequence is timed stretch by stretch: proven as any other, each stretch begun when the one before is
over, and every wait at such a place told."""

from __future__ import annotations

import pytest

from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.planning import plan, stretches
from handfast.planning.overlap import MARGIN
from handfast.proof import verify


@pytest.fixture(scope="module")
def whole(first_fit: CheckedProject) -> Chart:
    chart = plan(first_fit, seed=7, together=True)
    assert isinstance(chart, Chart)
    return chart


@pytest.fixture(scope="module")
def cut(first_fit: CheckedProject, whole: Chart) -> Chart:
    """Both hands at once, no stretch longer than a mate."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(stretches, "LONGEST", 1.0)
        chart = plan(first_fit, seed=7, together=True)
    assert isinstance(chart, Chart)
    return chart


def parted(chart: Chart) -> tuple[list[Element], list[Element]]:
    """What is done for the first mate, and for all others (of which one lets go what another brought)."""
    working = [e for e in chart.elements if not _stands(e)]
    first = [e for e in working if e.mate == chart.mates[0]]
    return first, [e for e in working if e not in first]


def _stands(e: Element) -> bool:
    return e.kind in ("hold", "delay")


def _over(elements: list[Element]) -> float:
    return max(e.start_s + e.duration_s for e in elements)


def test_stretches_follow_each_other_and_the_proof_holds(
    first_fit: CheckedProject, whole: Chart, cut: Chart
) -> None:
    before, after = parted(whole)
    assert min(e.start_s for e in after) < _over(before)
    before, after = parted(cut)
    assert min(e.start_s for e in after) == pytest.approx(_over(before) + 2 * MARGIN, abs=0.05)
    proof = verify(first_fit.project, cut, "0" * 64)
    assert proof.holds, [v.text for v in proof.violations]


def test_the_hand_that_begins_a_stretch_has_waited_for_the_other(cut: Chart) -> None:
    before, after = parted(cut)
    first = min(after, key=lambda e: e.start_s)
    gap = next(
        e
        for e in cut.elements
        if _stands(e) and e.hand == first.hand and abs(e.start_s + e.duration_s - first.start_s) < 1e-6
    )
    assert gap.waits_for == "its turn"
    awaited = next(e for e in cut.elements if e.id == gap.until)
    assert awaited.hand != first.hand
    assert awaited.start_s + awaited.duration_s <= _over(before) + 1e-6
