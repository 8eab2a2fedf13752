"""Both hands at once: every gap says why, and it is so."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import numpy as np
import pytest
from tests.proof.two_arms import TwoArms, along

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.execution.rehearsal import ready_at
from handfast.model.chart import Chart
from handfast.model.element import Element, WaitsFor
from handfast.planning import plan
from handfast.planning.meetings import STEP
from handfast.planning.overlap import MARGIN
from handfast.planning.waits import in_the_way, soonest, waited_for

PROJECTS = Path(__file__).parents[2] / "projects"
TURN = "its turn"
DONE = "nothing more to do"
COVERS = 0.015  # two covers of spheres together reach this far beyond the bodies they hold [m]
REACH = 1.0  # of an arm with what it holds [m]
WAITS = ("hold", "delay")


@pytest.fixture(scope="module", params=["first-fit", pytest.param("dosing-pump", marks=pytest.mark.slow)])
def both(request: pytest.FixtureRequest) -> tuple[CheckedProject, Chart]:
    checked = check_folder(PROJECTS / request.param)
    assert isinstance(checked, CheckedProject)
    chart = plan(checked, seed=7, together=True)
    assert isinstance(chart, Chart)
    return checked, chart


def end(e: Element) -> float:
    return e.start_s + e.duration_s


def over(e: Element) -> float:
    """When what an element works with is free: a release lets go before its motions."""
    return e.start_s + e.before_s if e.kind == "release" else end(e)


def gaps(chart: Chart) -> list[tuple[Element, Element | None]]:
    """Every hold and delay, with the next element of its hand, found from the times alone."""
    out: list[tuple[Element, Element | None]] = []
    for hand in chart.hands:
        own = sorted((e for e in chart.elements if e.hand == hand), key=lambda e: e.start_s)
        working = [e for e in own if e.kind not in WAITS]
        clock = 0.0
        for e in [*working, None]:
            start = chart.makespan_s if e is None else e.start_s
            if start - clock > 1e-6:
                (gap,) = [g for g in own if g.kind in WAITS and abs(g.start_s - clock) < 1e-6]
                assert end(gap) == pytest.approx(start)
                out.append((gap, e))
            clock = start if e is None else end(e)
    return out


def test_every_gap_has_a_cause_and_names_what_it_waits_for(both: tuple[CheckedProject, Chart]) -> None:
    _, chart = both
    found = gaps(chart)
    assert len(found) == sum(e.kind in WAITS for e in chart.elements) > 5
    ids = {e.id: e for e in chart.elements}
    for gap, e in found:
        assert gap.waits_for in get_args(WaitsFor)
        assert gap.waits_for not in ("", TURN)
        assert gap.cause
        if gap.waits_for == DONE:
            assert e is None
        elif gap.waits_for == "the step of the time grid":
            assert gap.duration_s <= STEP + 1e-6
        else:
            assert ids[gap.until].hand != gap.hand
            assert ids[gap.until].hand in gap.cause
    assert all(not e.waits_for and not e.until for e in chart.elements if e.kind not in WAITS)


def test_a_step_sooner_would_break_exactly_that(both: tuple[CheckedProject, Chart]) -> None:
    """The order of things: what is waited for ends within a step of the time grid before. The other hand:
    it would come too near, with the timing margin, by the proof's bodies and distances."""
    checked, chart = both
    ids = {e.id: e for e in chart.elements}
    arms, looked_at = TwoArms(checked.project), 0
    for gap, e in gaps(chart):
        if e is None or gap.waits_for == "the step of the time grid":
            continue
        awaited = ids[gap.until]
        if gap.waits_for == "the handover":
            assert "hand." in awaited.target + e.target
        if gap.waits_for == "the tool":
            assert {t.name for t in checked.project.cell.tools} & {e.object, e.target.removeprefix("tool.")}
        if gap.waits_for == "a mate before it":
            assert awaited.kind in ("assemble", "use")
            assert awaited.mate != e.mate
        if gap.waits_for == "the part":
            assert e.object in (awaited.object, awaited.target.partition(".")[0])
        in_order = e.start_s - 2 * STEP < over(awaited) <= e.start_s + 1e-6
        if gap.waits_for != "the other hand to make way":
            assert in_order
        elif not in_order:  # nothing that both handle: they would come too near
            assert awaited.start_s < end(e) + MARGIN + STEP
            assert nearest(arms, checked, chart, e) < checked.project.clearance + COVERS
            looked_at += 1
    assert looked_at > 2


def nearest(arms: TwoArms, checked: CheckedProject, chart: Chart, e: Element) -> float:
    """The least distance of the arms [m], less what they may move within half a step of the time grid, while
    an element is carried out a step sooner, the other hand early or late in its own work by as much as the
    timing margin."""
    ready = ready_at(checked.project, chart, e.number)
    (other,) = (h for h in chart.hands if h != e.hand)
    least = np.inf
    for early in np.arange(-MARGIN - STEP, MARGIN + 1.5 * STEP, 2 * STEP):
        for time in np.arange(0.0, e.duration_s + 2 * STEP, 2 * STEP):
            now = e.start_s + float(time) - STEP
            at = {
                e.hand: own_time(chart, e.hand, e.start_s) + float(time),
                other: own_time(chart, other, now) + float(early),
            }
            q = {hand: where(checked, chart, hand, t) for hand, t in at.items()}
            later = {hand: where(checked, chart, hand, t + STEP) for hand, t in at.items()}
            moves = sum(float(np.abs(later[hand] - q[hand]).sum()) * REACH / 2 for hand in at)
            least = min(least, arms.apart(ready, q) - moves)
    return float(least)


def own_time(chart: Chart, hand: str, time: float) -> float:
    """How long a hand has worked by then, its waits left out [s]."""
    own = [e for e in chart.elements if e.hand == hand and e.kind not in WAITS]
    return sum(min(max(time - e.start_s, 0.0), e.duration_s) for e in own)


def where(checked: CheckedProject, chart: Chart, hand: str, worked: float) -> np.ndarray:
    """Where a hand's arm stands by the chart when it has worked so long [s] (n,)."""
    q, clock = np.array(checked.project.cell.arm(hand).home), worked
    own = [e for e in chart.elements if e.hand == hand and e.kind not in WAITS]
    for e in sorted(own, key=lambda e: e.start_s):
        inside = clock - (e.before_s if e.kind != "grasp" else 0.0)
        for motion in e.motions:
            if inside > 0:
                q = along(motion, inside)
            inside -= motion.duration
        clock -= e.duration_s
        if clock <= 0:
            break
    return q


def test_one_hand_at_a_time_waits_for_its_turn() -> None:
    checked = check_folder(PROJECTS / "first-fit")
    assert isinstance(checked, CheckedProject)
    chart = plan(checked, seed=7)
    assert isinstance(chart, Chart)
    ids = {e.id: e for e in chart.elements}
    for gap, e in gaps(chart):
        assert gap.waits_for == (DONE if e is None else TURN)
        if e is not None:
            assert end(ids[gap.until]) == pytest.approx(e.start_s)


def test_soonest_and_its_reasons_on_a_grid_by_hand() -> None:
    """Two hands with two elements of 3 steps each; the second of the one waits for the first of the other;
    and a cell at which they meet."""
    lengths, late = [[3, 3], [3, 3]], [[4, 9], [0, 3]]
    closed = np.zeros((7, 7), dtype=bool)
    order = closed.copy()
    order[4:, :3] = True  # the first hand's second element: not before the other's first is over
    assert soonest(lengths, late, order) == [[0, 3], [0, 3]]
    assert soonest(lengths, [[0, 9], [5, 8]], order) == [[0, 3], [0, 3]]
    held = [[0, 8], [5, 8]]
    assert waited_for(lengths, held, [(1, 0, False, 3)], 0, 1) == 0
    assert waited_for(lengths, [[0, 9], [5, 8]], [(1, 0, False, 3)], 0, 1) is None
    met = closed.copy()
    met[1, 1] = True  # both a step into their first elements: the first hand may come a step later
    best = soonest(lengths, [[9, 12], [0, 3]], met)
    assert best == [[2, 5], [0, 3]]  # not one later either: that would cut the corner
    assert in_the_way(lengths, best, met, 0, 0) == 0
    met[1:3, 0:5] = True  # until the other is in its second element
    best = soonest(lengths, [[9, 12], [0, 3]], met)
    assert best == [[5, 8], [0, 3]]
    assert in_the_way(lengths, best, met, 0, 0) == 1
    assert waited_for(lengths, best, [], 0, 0) is None


def runs_clear(lengths: list[list[int]], starts: list[list[int]], closed: np.ndarray, until: int) -> bool:
    """Both hands stepped through time: neither in a closed cell nor across a closed corner."""

    def gone(hand: int, time: int) -> int:
        return sum(min(max(time - s, 0), n) for s, n in zip(starts[hand], lengths[hand], strict=True))

    before = (0, 0)
    for time in range(until + 1):
        now = gone(0, time), gone(1, time)
        if closed[now] or (now[0] > before[0] and now[1] > before[1] and (
            closed[before[0], now[1]] or closed[now[0], before[1]]
        )):  # fmt: skip
            return False
        before = now
    return True


@pytest.mark.parametrize("seed", range(200))
def test_no_element_could_begin_sooner_alone_and_none_was_put_off(seed: int) -> None:
    rng = np.random.default_rng(seed)
    lengths = [rng.integers(1, 5, size=rng.integers(1, 5)).tolist() for _ in (0, 1)]
    closed = rng.random((sum(lengths[0]) + 1, sum(lengths[1]) + 1)) < 0.12
    closed[0, :], closed[:, -1] = False, False  # one hand after the other is a way
    first = np.cumsum([sum(lengths[1]), *lengths[0][:-1]]).tolist()
    late = [first, np.cumsum([0, *lengths[1][:-1]]).tolist()]
    end = sum(map(sum, lengths))
    assert runs_clear(lengths, late, closed, end)
    begun = soonest(lengths, late, closed)
    assert runs_clear(lengths, begun, closed, end)
    for hand in (0, 1):
        ready = 0
        for k, start in enumerate(begun[hand]):
            assert start <= late[hand][k]
            for sooner in range(ready, start):
                tried = [list(own) for own in begun]
                tried[hand][k] = sooner
                assert not runs_clear(lengths, tried, closed, end)
            ready = start + lengths[hand][k]
