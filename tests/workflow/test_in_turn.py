"""Charts of both hands at once, as a run carries them out: one element after another."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.record import Record
from handfast.workflow import run_chart
from handfast.workflow.in_turn import in_turn
from handfast.workflow.make_chart import is_chart, plan
from handfast.workflow.not_proven import NotProvenError
from handfast.workflow.run_chart import must_hold_in_turn

pytestmark = pytest.mark.slow
FIRST_FIT = Path(__file__).parents[2] / "projects" / "first-fit"


@pytest.fixture(scope="module")
def checked() -> CheckedProject:
    found = check_folder(FIRST_FIT)
    assert isinstance(found, CheckedProject)
    return found


def planned(checked: CheckedProject, *, together: bool) -> Record[Chart]:
    found = plan(checked, seed=7, together=together)
    assert is_chart(found)
    return found


def test_both_at_once_in_turn(checked: CheckedProject) -> None:
    chart = planned(checked, together=True)
    turns = in_turn(chart.body)
    assert turns is not None
    working = [e for e in chart.body.elements if e.kind not in ("hold", "delay")]
    assert turns.makespan_s == pytest.approx(sum(e.duration_s for e in working))
    assert turns.makespan_s > chart.body.makespan_s + 1
    assert [e.id for e in turns.elements] == [
        e.id for e in sorted(working, key=lambda e: (e.start_s, e.number))
    ]
    for a, b in zip(turns.elements, turns.elements[1:], strict=False):
        assert b.start_s == pytest.approx(a.start_s + a.duration_s)
    must_hold_in_turn(checked.project, chart)  # the small example's hands keep clear that way, too
    # From the middle on: what is before stays as it was.
    since = working[len(working) // 2].start_s
    later = in_turn(chart.body, since)
    assert later is not None
    before = [e for e in working if e.start_s < since - 1e-6]
    assert [e.start_s for e in later.elements[: len(before)]] == [e.start_s for e in before]


def test_hands_that_would_meet_in_turn_are_refused(
    checked: CheckedProject, monkeypatch: pytest.MonkeyPatch
) -> None:
    chart = planned(checked, together=False)
    assert in_turn(chart.body) is None
    must_hold_in_turn(checked.project, chart)
    # The taking hand reaches for the pin just before the giving one sets out with it: in turn it stands at
    # the meeting place when the other comes.
    elements = {e.number: e for e in chart.body.elements}
    brings = next(e for e in elements.values() if e.kind == "move" and e.target == "hand.right")
    reaches = next(e for e in elements.values() if e.kind == "reach" and e.target == "hand.left")
    elements[reaches.number] = replace(reaches, start_s=brings.start_s - 1e-3)
    early = replace(chart, body=replace(chart.body, elements=tuple(elements.values())))
    with pytest.raises(NotProvenError, match="one element after another"):
        must_hold_in_turn(checked.project, early)
    # A run asks before it asks anything of the cell, were the chart proven at the same instants.
    for other in ("must_fit", "must_hold"):
        monkeypatch.setattr(run_chart, other, lambda *_: None)
    with pytest.raises(NotProvenError, match="one element after another"):
        run_chart.run(checked, early, None, None)  # type: ignore[arg-type]
