"""Other routes for a shorter cycle: never longer, repeatable, and the proof agrees."""

from __future__ import annotations

import pytest

from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.planning import plan
from handfast.proof import verify

from .conftest import SEED

WORK = 8


def planned(checked: CheckedProject, work: int, told: list[str]) -> Chart:
    chart = plan(
        checked, seed=SEED, together=True, work=work, progress=lambda what, done, of: told.append(what)
    )
    assert isinstance(chart, Chart)
    return chart


@pytest.mark.slow
def test_more_work_never_gives_a_longer_cycle_and_equal_work_equal_charts(first_fit: CheckedProject) -> None:
    told: list[str] = []
    first, best = planned(first_fit, 0, []), planned(first_fit, WORK, told)
    assert best.makespan_s <= first.makespan_s
    assert best.lower_bound_s < best.makespan_s
    assert set(best.mates) == set(first.mates)
    assert verify(first_fit.project, best, "0" * 64).holds
    tries = [text for text in told if "trying" in text]
    assert 0 < len(tries) <= WORK
    cycles = [float(text.split()[0]) for text in tries]
    assert cycles == sorted(cycles, reverse=True)
    assert cycles[-1] >= best.makespan_s - 0.005
    assert planned(first_fit, WORK, []) == best
