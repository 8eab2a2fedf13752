"""Every element of first-fit is one that a run can go on with, or it is said which one is, and what to do."""

from __future__ import annotations

import re

import numpy as np
import pytest
from tests.proof.chart_by_hand import FOLDER

from handfast.checking.checked_project import CheckedProject
from handfast.execution.rehearsal import Ready, ready_at, rehearse
from handfast.kinematics.chain import load_chain
from handfast.kinematics.forward import forward
from handfast.kinematics.inverse import inverse
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.record import Record
from handfast.planning.resumed import NoWayError, Resumed
from handfast.planning.way_back import way_back
from handfast.spatial import se3
from handfast.workflow.make_chart import is_chart, plan
from handfast.workflow.make_ledger import budget
from handfast.workflow.planned_anew import must_be_proven
from handfast.workflow.read_project import check, load
from handfast.workflow.resume_run import run_from
from handfast.workflow.simulated_middle import simulated_middle

pytestmark = pytest.mark.slow
Planned = tuple[CheckedProject, Record[Chart], Record[Ledger]]
PROVEN = 9  # of how many elements one is proven here; a run proves each before it moves


@pytest.fixture(scope="module")
def planned() -> Planned:
    checked = check(load(FOLDER))
    chart = plan(checked, seed=7)
    assert is_chart(chart)
    return checked, chart, budget(checked, chart)


def go_on(planned: Planned, number: int, q: dict[str, tuple[float, ...]]) -> Resumed:
    """A way in from there; each hand would find what it needs from there on."""
    checked, chart, _ = planned
    ready = ready_at(checked.project, chart.body, number)
    found = way_back(checked.project, chart.body, number, q, ready.widths)
    then = Ready(ready.scene, found.q, ready.widths, ready.holding, ready.done)
    left = tuple(e for e in found.chart.elements if e.number >= found.first)
    assert rehearse(checked.project, found.chart, left, then) is None
    return found


def moved_by_touches(planned: Planned, hand: str, q: tuple[float, ...]) -> tuple[float, ...]:
    """Where an arm stands whose target a touch has moved by 0.4 mm."""
    project = planned[0].project
    chain = load_chain(project.cell.arm(hand), project.folder)
    T = se3.translation(3e-4, -2e-4, 2e-4) @ forward(chain, np.array(q))[0]
    found, valid = inverse(chain, T[None], np.array(q))
    near = [c for c in found[0][valid[0]] if np.abs(c - np.array(q)).max() < 0.03]
    assert near
    return tuple(near[0].tolist())


def test_a_run_goes_on_with_any_element_from_where_it_stood(planned: Planned) -> None:
    """Arms as real ones tell of themselves: the one that works moved as touches move it, the other off by
    0.05 mrad."""
    checked, chart, _ = planned
    for e in chart.body.elements:
        ready = ready_at(checked.project, chart.body, e.number)
        q = {h: tuple((np.array(v) + 5e-5).tolist()) for h, v in ready.q.items()}
        q[e.hand] = moved_by_touches(planned, e.hand, ready.q[e.hand])
        found = go_on(planned, e.number, q)
        if e.number % PROVEN == 3:
            must_be_proven(checked.project, found)


def test_from_home_a_run_goes_on_or_says_with_which_element_it_can(planned: Planned) -> None:
    """Every refusal names an element; that one goes."""
    checked, chart, _ = planned
    home = {a.name: a.home for a in checked.project.cell.arms}
    refused: dict[int, str] = {}
    for e in chart.body.elements:
        try:
            go_on(planned, e.number, home)
        except NoWayError as error:
            refused[e.number] = str(error)
    assert 0 < len(refused) < len(chart.body.elements) / 2
    for number, text in refused.items():
        ready = ready_at(checked.project, chart.body, number)
        # Only a hand that holds something in its place, or together with the other one, cannot come back.
        passed = len(set(ready.holding.values())) < len(ready.holding)
        at_home = any(m.part in ready.holding.values() for m in checked.project.product.mates
                      if m.name in ready.done)  # fmt: skip
        assert passed or at_home, text
        named = re.search(r"begin with element (\d+)", text)
        assert named is not None, text
        go_on(planned, int(named[1]), home)
    assert any("both hands hold pin" in t for t in refused.values())
    assert any("has nothing more to do with pin but to let it go" in t for t in refused.values())
    assert any("take cover off" in t for t in refused.values())


def test_touches_that_nobody_knows_of_are_made_again(planned: Planned) -> None:
    checked, chart, ledger = planned
    touch = next(e for e in chart.body.elements if e.kind == "locate")
    cell = simulated_middle(checked, chart, touch.number + 1, None, 7)
    with pytest.raises(NoWayError, match=f"touches block.*begin with element {touch.number} or an earlier"):
        run_from(checked, chart, ledger, cell, touch.number + 1)
    cell = simulated_middle(checked, chart, touch.number, None, 7)
    assert run_from(checked, chart, ledger, cell, touch.number).body.ended == "done"
