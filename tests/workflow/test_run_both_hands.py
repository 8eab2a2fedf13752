"""A settled chart of both hands at once, run as a user runs it: touches correct motions, which then take
longer than the chart has them; here, over a wire, and in turn."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.execution.served_cell import served
from tests.execution.test_both_hands import in_step, times

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.execution.tcp_cell import TcpCell
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.record import Record
from handfast.trials.two_hand_cell import TwoHandSimulatedCell
from handfast.workflow.run_chart import run, simulated_cell
from handfast.workflow.settle_chart import settle

pytestmark = pytest.mark.slow
FIRST_FIT = Path(__file__).parents[2] / "projects" / "first-fit"


@pytest.fixture(scope="module")
def settled() -> tuple[CheckedProject, Record[Chart], Record[Ledger]]:
    checked = check_folder(FIRST_FIT)
    assert isinstance(checked, CheckedProject)
    found = settle(checked, target=0.995, seed=7, together=True)
    return checked, found[0], found[1]


@pytest.mark.parametrize("seed", [3, 5])
def test_it_comes_to_its_end_in_step_and_sooner_than_in_turn(
    settled: tuple[CheckedProject, Record[Chart], Record[Ledger]], seed: int
) -> None:
    checked, chart, ledger = settled
    log = run(checked, chart, ledger, simulated_cell(checked, chart, seed=seed)).body
    assert log.ended == "done", log.reason
    assert any(ln.event == "correction" for ln in log.lines)
    in_step(chart.body, times(chart.body, log))
    one = simulated_cell(checked, chart, seed=seed)
    assert isinstance(one, TwoHandSimulatedCell)
    one.two_hands = False
    turns = run(checked, chart, ledger, one).body
    assert turns.ended == "done", turns.reason
    assert log.lines[-1].time_s < 0.95 * turns.lines[-1].time_s

    def told(lines: object) -> list[object]:
        return [(ln.element, ln.event, ln.values) for ln in lines if ln.event in ("contact", "screw")]  # type: ignore[attr-defined]

    assert told(log.lines) == told(turns.lines)  # what happens does not depend on who waits for whom


def test_over_a_wire_it_is_the_same(
    settled: tuple[CheckedProject, Record[Chart], Record[Ledger]],
) -> None:
    checked, chart, ledger = settled
    here = run(checked, chart, ledger, simulated_cell(checked, chart, seed=3)).body
    with served(simulated_cell(checked, chart, seed=3)) as address:
        cell = TcpCell(address)
        there = run(checked, chart, ledger, cell).body
        cell.close()
    assert there == here
