"""Both hands at once, run: in step, over a wire, and with a late arm."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.execution.served_cell import served
from tests.proof.two_arms import TwoArms

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.execution.cell import CellError
from handfast.execution.executor import execute
from handfast.execution.going import MARGIN
from handfast.execution.rehearsal import ready_at
from handfast.execution.tcp_cell import TcpCell
from handfast.kinematics.chain import Chain, load_chain
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.run_log import RunLog
from handfast.planning import plan
from handfast.proof.any_timing import AnyTiming
from handfast.trials.draw import Draws
from handfast.trials.two_hand_cell import TwoHandSimulatedCell

PROJECTS = Path(__file__).parents[2] / "projects"
WAITS = ("hold", "delay")


@dataclass(frozen=True)
class Bench:
    checked: CheckedProject
    chart: Chart
    chains: dict[str, Chain]

    def cell(self, kind: type[TwoHandSimulatedCell] = TwoHandSimulatedCell) -> Any:
        """Without errors: what is asked here is when things happen."""
        project = self.checked.project
        grasps = tuple(dict.fromkeys(e.grasp for e in self.chart.elements if e.grasp is not None))
        return kind(project, self.chains, Draws(project.errors, 7, 0, scale=0.0), grasps)

    def run(self, cell: Any, *, both: bool = True) -> RunLog:
        project = self.checked.project
        apart = AnyTiming(project, self.chart) if both else None
        return execute(project, self.chart, None, cell, chains=self.chains, apart=apart)


def bench(name: str) -> Bench:
    checked = check_folder(PROJECTS / name)
    assert isinstance(checked, CheckedProject)
    chart = plan(checked, seed=7, together=True)
    assert isinstance(chart, Chart)
    return Bench(
        checked, chart, {a.name: load_chain(a, checked.project.folder) for a in checked.project.cell.arms}
    )


@pytest.fixture(scope="module")
def small() -> Bench:
    return bench("first-fit")


@pytest.fixture(scope="module")
def pump() -> Bench:
    return bench("dosing-pump")


def times(chart: Chart, log: RunLog) -> dict[int, tuple[float, float]]:
    """When each element began and ended."""
    numbers = {e.id: e.number for e in chart.elements}
    begun = {numbers[ln.element]: ln.time_s for ln in log.lines if ln.event == "start"}
    ended = {numbers[ln.element]: ln.time_s for ln in log.lines if ln.event == "done"}
    return {n: (begun[n], ended[n]) for n in begun if n in ended}


def in_step(chart: Chart, found: dict[int, tuple[float, float]]) -> None:
    """No element began before what the chart has over by then was over."""
    working = [e for e in chart.elements if e.kind not in WAITS]
    for e in working:
        for other in working:
            over = other.start_s + other.duration_s
            if other.hand != e.hand and over <= e.start_s + 1e-9:
                assert found[other.number][1] <= found[e.number][0] + 1e-9, (other.number, e.number)


def test_it_runs_to_the_end_in_the_time_of_the_chart(small: Bench) -> None:
    log, turns = small.run(small.cell()), small.run(small.cell(), both=False)
    assert log.ended == turns.ended == "done"
    found = times(small.chart, log)
    assert set(found) == {e.number for e in small.chart.elements if e.waits_for != "nothing more to do"}
    in_step(small.chart, found)
    took, in_turn = log.lines[-1].time_s, turns.lines[-1].time_s
    # A touch lasts as long as it takes: the chart has it to its furthest.
    assert took == pytest.approx(small.chart.makespan_s, rel=0.05)
    work = sum(e.duration_s for e in small.chart.elements if e.kind not in WAITS)
    assert took / in_turn <= 1.1 * small.chart.makespan_s / work
    assert small.run(small.cell()) == log  # threads or not: equal runs go equally


@pytest.mark.slow
def test_the_pump_runs_with_both_hands_in_the_time_of_the_chart(pump: Bench) -> None:
    log, turns = pump.run(pump.cell()), pump.run(pump.cell(), both=False)
    assert log.ended == turns.ended == "done"
    in_step(pump.chart, times(pump.chart, log))
    took = log.lines[-1].time_s
    assert took == pytest.approx(pump.chart.makespan_s, rel=0.02)
    work = sum(e.duration_s for e in pump.chart.elements if e.kind not in WAITS)
    assert took / turns.lines[-1].time_s <= 1.05 * pump.chart.makespan_s / work


def test_over_a_wire_it_is_the_same(small: Bench) -> None:
    here = small.run(small.cell())
    with served(small.cell()) as address:
        cell = TcpCell(address)
        assert cell.two_hands
        there = small.run(cell)
        cell.close()
    assert there == here


def test_what_two_hands_are_asked_goes_over_the_wire(small: Bench) -> None:
    motion = next(e for e in small.chart.elements if e.motions and e.hand == "right").motions[0]
    with served(small.cell()) as address:
        cell = TcpCell(address)
        cell.begin("right", "move", {"arm": "right", "motion": motion})
        with pytest.raises(CellError, match="is at something"):
            cell.begin("right", "pause", {"seconds": 1.0})
        with pytest.raises(CellError, match="expected one of move"):
            cell.begin("left", "state", {"arm": "left"})
        cell.jaws("left", 0.02)
        assert cell.state("left").width == pytest.approx(0.02)
        assert cell.wait(motion.duration / 2) == ()
        assert cell.clock() == pytest.approx(motion.duration / 2)
        halfway = cell.state("right").q
        assert halfway not in (motion.q[0], motion.q[-1])
        cell.halt()
        (ended,) = cell.wait(1.0)
        assert (ended.arm, ended.kind) == ("right", "halted")
        assert cell.state("right").q == pytest.approx(halfway)
        cell.close()


@dataclass(frozen=True)
class Late:
    """How late an arm is: what it does from a given moment on takes so much longer."""

    arm: str
    since: float
    until: float
    factor: float


def late_cell(late: Late) -> type[TwoHandSimulatedCell]:
    class LateCell(TwoHandSimulatedCell):
        """Remembers where both arms are, every 20 ms and whenever something is over."""

        seen: list[tuple[float, dict[str, np.ndarray], dict[str, float]]]

        def lasts(self, arm: str, name: str, seconds: float) -> float:
            slow = arm == late.arm and late.since <= self.clock() < late.until
            return seconds * (late.factor if slow else 1.0)

        def wait(self, seconds: float) -> Any:
            self.seen = getattr(self, "seen", [])
            end = self.clock() + seconds
            while True:
                found = super().wait(min(0.02, max(end - self.clock(), 0.0)))
                arms = {a.name: self.state(a.name) for a in self.truth.project.cell.arms}
                q = {name: np.array(state.q) for name, state in arms.items()}
                self.seen.append((self.clock(), q, {n: s.width for n, s in arms.items()}))
                if found or self.clock() >= end - 1e-9:
                    return found

    return LateCell


def nearest(bench: Bench, cell: Any, log: RunLog) -> float:
    """The least distance of the arms [m] at all remembered instants, by the bodies of the proof; what hands
    hold as the chart has it when the elements begin that had begun by then."""
    arms, by_id = TwoArms(bench.checked.project), {e.id: e for e in bench.chart.elements}
    begun = [(ln.time_s, by_id[ln.element]) for ln in log.lines if ln.event == "start"]
    least = np.inf
    for time, q, _ in cell.seen[::2]:
        at = {e.hand: e for t, e in begun if t <= time}
        objects = [e.object for e in at.values()]
        number = max((e.number for e in at.values()), default=1)
        shared = {o for o in objects if o and objects.count(o) > 1}
        least = min(least, arms.apart(ready_at(bench.checked.project, bench.chart, number), q, shared))
    return float(least)


def test_a_late_arm_holds_the_other_and_nothing_meets(small: Bench) -> None:
    """The left arm at two thirds of its speed for six seconds, then the right for four: the other waits at
    the ends of its elements, and does not where it need not."""
    held_alone = held(small.run(small.cell()))
    for late in (Late("left", 12.0, 18.0, 1.5), Late("right", 10.0, 14.0, 1.5)):
        cell = small.cell(late_cell(late))
        log = small.run(cell)
        assert log.ended == "done", log.reason
        in_step(small.chart, times(small.chart, log))
        waited = {
            e: s for (e, hand), s in held(log).items() if (e, hand) not in held_alone and hand == late.arm
        }
        assert waited
        assert all(seconds > MARGIN for seconds in waited.values())
        assert nearest(small, cell, log) > 0.0


def held(log: RunLog) -> dict[tuple[str, str], float]:
    """How long hands were held [s], by the element they then began and the hand that was late."""
    lines = [ln for ln in log.lines if ln.event == "held"]
    return {(ln.element, ln.text.split()[1]): dict(ln.values)["seconds"] for ln in lines}


def elements_at_once(chart: Chart, apart: AnyTiming) -> tuple[Element, Element]:
    """Two elements at the same time whose hands could meet out of step: the first ends well before the
    second."""
    working = [e for e in chart.elements if e.motions]
    return next(
        (e, other)
        for e in working
        for other in working
        if e.hand != other.hand
        and e.start_s < other.start_s + other.duration_s
        and other.start_s < e.start_s + e.duration_s < other.start_s + other.duration_s - 3 * MARGIN
        and not apart.moving(e.number, other.number)
    )


def test_out_of_step_where_hands_could_meet_both_arms_are_stopped(small: Bench) -> None:
    one, other = elements_at_once(small.chart, AnyTiming(small.checked.project, small.chart))
    on_time = times(small.chart, small.run(small.cell()))
    late = Late(one.hand, on_time[one.number][0] - 1e-3, on_time[one.number][1] - 1e-3, 3.0)
    cell = small.cell(late_cell(late))
    log = small.run(cell)
    assert log.ended == "stopped"
    assert log.cause == "out of step"
    assert "both arms were stopped where they are" in log.reason
    halt = next(ln for ln in log.lines if ln.event == "halt")
    begun = {ln.element for ln in log.lines if ln.event == "start"}
    assert {one.id, other.id} <= begun
    assert halt.time_s < max(t for t, *_ in cell.seen) + 1e-6
    assert nearest(small, cell, log) > 0.0
    stands = [ln.text for ln in log.lines if ln.event == "stands"]
    assert sorted(stands) == ["left", "right"]


def test_a_failure_lets_the_other_hand_end_what_it_is_at(small: Bench) -> None:
    """A grasp that finds another part while the other arm moves far away: that arrives, then the run
    stops."""

    class Empty(TwoHandSimulatedCell):
        def grip(self, arm: str, width: float, force: float) -> float:
            super().grip(arm, width, force)
            return 0.001 if arm == "right" and self.clock() > 5.0 else width

    log = small.run(small.cell(Empty))
    assert (log.ended, log.cause) == ("stopped", "wrong width")
    stop = next(ln for ln in log.lines if ln.event == "stop")
    done = {ln.element for ln in log.lines if ln.event == "done"}
    begun = [ln.element for ln in log.lines if ln.event == "start"]
    assert [e for e in begun if e not in done and "hold" not in e and "delay" not in e] == [stop.element]


def test_a_cell_that_moves_one_arm_at_a_time_is_asked_so(small: Bench) -> None:
    class OneArm(TwoHandSimulatedCell):
        two_hands = False

        def begin(self, arm: str, name: str, given: Mapping[str, Any]) -> None:
            raise AssertionError("not asked")

    log = small.run(small.cell(OneArm))
    assert log.ended == "done"
    found = times(small.chart, log)
    ends = [found[e.number] for e in sorted(small.chart.elements, key=lambda e: (e.start_s, e.number))]
    assert all(a[1] <= b[0] + 1e-9 for a, b in pairwise(ends))
