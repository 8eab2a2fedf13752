"""Two hands out of step: what is said not to meet does not, and what meets is not said to be clear."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from tests.proof.two_arms import TwoArms, along

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.execution.rehearsal import ready_at
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.planning import plan
from handfast.proof.any_timing import SPARE, AnyTiming

FIRST_FIT = Path(__file__).parents[2] / "projects" / "first-fit"


@pytest.fixture(scope="module")
def made() -> tuple[CheckedProject, Chart, AnyTiming, TwoArms]:
    checked = check_folder(FIRST_FIT)
    assert isinstance(checked, CheckedProject)
    chart = plan(checked, seed=7, together=True)
    assert isinstance(chart, Chart)
    return checked, chart, AnyTiming(checked.project, chart), TwoArms(checked.project)


def at_once(chart: Chart) -> list[tuple[Element, Element]]:
    """Elements with motions that the chart has at the same time, the left hand's first."""
    moving = [e for e in chart.elements if e.motions]
    return [
        (a, b)
        for a in moving
        for b in moving
        if (a.hand, b.hand) == ("left", "right")
        and a.start_s < b.start_s + b.duration_s
        and b.start_s < a.start_s + a.duration_s
    ]


def somewhere(e: Element, share: float) -> np.ndarray:
    """Where an element's arm is after this share of its motions (n,)."""
    time = share * sum(m.duration for m in e.motions)
    for motion in e.motions:
        if time <= motion.duration or motion is e.motions[-1]:
            return along(motion, time)
        time -= motion.duration
    raise AssertionError


def test_what_is_clear_whatever_the_timing_is_clear_at_random_points(
    made: tuple[CheckedProject, Chart, AnyTiming, TwoArms],
) -> None:
    checked, chart, apart, arms = made
    rng, answers, measured = np.random.default_rng(7), {True: 0, False: 0}, 0
    for a, b in at_once(chart):
        said = apart.moving(a.number, b.number)
        assert said == apart.moving(b.number, a.number)
        answers[said] += 1
        if not said:
            continue
        ready = ready_at(checked.project, chart, max(a.number, b.number))
        for u, v in rng.uniform(size=(30, 2)):
            q = {"left": somewhere(a, float(u)), "right": somewhere(b, float(v))}
            assert arms.apart(ready, q) > SPARE - 1e-6
            measured += 1
    assert min(answers.values()) >= 2  # both answers are given
    assert measured >= 200


def test_hands_that_meet_at_some_timing_are_not_said_to_be_clear(
    made: tuple[CheckedProject, Chart, AnyTiming, TwoArms],
) -> None:
    """The grid of all pairs of points of two elements, 20 by 20: where any is nearer than what is kept to
    spare, the answer is no."""
    checked, chart, apart, arms = made
    met = 0
    for a, b in at_once(chart):
        ready = ready_at(checked.project, chart, max(a.number, b.number))
        shared = {a.object} & {b.object}
        near = min(
            arms.apart(ready, {"left": somewhere(a, u), "right": somewhere(b, v)}, shared)
            for u in np.linspace(0.0, 1.0, 20)
            for v in np.linspace(0.0, 1.0, 20)
        )
        if near < SPARE - 1e-6:
            met += 1
            assert not apart.moving(a.number, b.number)
    assert met >= 2


def test_a_hand_that_stands_in_the_way_of_another_is_told(
    made: tuple[CheckedProject, Chart, AnyTiming, TwoArms],
) -> None:
    """The giving hand still standing at the handover, and the taking hand's way off with the part: not clear;
    nor would all of its way in be, but the chart has the giving hand stand there by then. Both at home and
    the first reach: clear."""
    _, chart, apart, _ = made
    gives = next(e for e in chart.elements if e.kind == "move" and e.target.startswith("hand."))
    takes = next(e for e in chart.elements if e.kind == "grasp" and e.target.startswith("hand."))
    own = [e for e in chart.elements if e.hand == takes.hand and e.motions]
    comes = max((e for e in own if e.number < takes.number), key=lambda e: e.number)
    away = min((e for e in own if e.number > takes.number), key=lambda e: e.number)
    assert not apart.standing(gives.number, away.number, late=True)
    assert not apart.moving(gives.number, comes.number)
    assert apart.standing(gives.number, comes.number, late=False)
    first = next(e for e in chart.elements if e.motions)
    assert apart.standing(0, first.number, late=True)
