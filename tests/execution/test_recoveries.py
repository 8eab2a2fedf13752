"""What fails is named, met by what the element declares, and never tried again on its own account."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from tests.execution.scripted_cell import ScriptedCell
from tests.execution.test_executor import edited, lines, tips
from tests.trials.bench_chart import TRAVEL, bench_chart, bench_project, ledger

from handfast.execution.cell import GuardedResult, InsertResult, ObstructedError
from handfast.execution.executor import execute
from handfast.execution.joining import offset
from handfast.model.chart import Chart
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.planning.recoveries import with_recoveries
from handfast.spatial import se3
from handfast.spatial.pose import Pose

MISSED = InsertResult(False, "missed the chamfer", 0.001, 38.0)
IN = InsertResult(True, "", 0.021, 5.0)


@pytest.fixture(scope="module")
def project() -> Project:
    return bench_project()


@pytest.fixture(scope="module")
def chart(project: Project) -> Chart:
    return with_recoveries(project, bench_chart(project))


def in_place(project: Project, turn: float = 0.0, x: float = 0.0) -> Pose:
    """The pin as a camera would see it in its tray: turned about x [rad], off along x [m]."""
    tray = project.cell.holder("tray")
    there = tray.pose.matrix @ tray.places[0].pose.matrix
    return Pose.from_matrix(se3.translation(x, 0, 0) @ there @ se3.rotation(np.array([1.0, 0, 0]), turn))


def test_nothing_is_recovered_that_was_not_declared(project: Project, chart: Chart) -> None:
    for other, recover in ((bench_chart(project), True), (chart, False)):
        cell = ScriptedCell(project, insertions=[MISSED])
        log = execute(project, other, None, cell, recover=recover)
        assert (log.ended, log.cause) == ("stopped", "did not go in")
        assert len(cell.asked("insert")) == 1


def test_a_search_goes_beside_the_line_and_no_further_than_it_says(project: Project, chart: Chart) -> None:
    cell = ScriptedCell(project, insertions=[MISSED, MISSED, IN])
    log = execute(project, chart, ledger(), cell, recover=True)
    assert log.ended == "done", log.reason
    ins = [c[2] for c in cell.calls if c[0] == "insert"]
    assert len(ins) == 3
    (search,) = chart.elements[6].recoveries
    assert search.step == pytest.approx(0.7 * (0.5e-3 + 2.5e-6))  # lead-in of the bore, play of 8 H7/g6
    planned = tips(project, chart.elements[6].motions[0])
    for number, tried in enumerate(ins):
        assert isinstance(tried, Motion)
        shift = tips(project, tried)[1] @ se3.inverse(planned[1])
        # The bore's z points down: y is turned over.
        wanted = offset(search, number) * [1, -1] if number else np.zeros(2)
        assert shift[:2, 3] == pytest.approx(wanted, abs=1e-7)
        assert abs(shift[2, 3]) < 1e-7
    # Out again and sideways: each motion starts where the one before has ended.
    moved = [c[2] for c in cell.calls if c[0] in ("move", "insert") and isinstance(c[2], Motion)]
    for before, after in pairwise(moved):
        assert after.q[0] == pytest.approx(before.q[-1], abs=1e-7)
    assert [ln.cause for ln in lines(log, "failure")] == ["did not go in"] * 2


def test_a_search_ends(project: Project, chart: Chart) -> None:
    cell = ScriptedCell(project, insertion=MISSED)
    log = execute(project, chart, None, cell, recover=True)
    assert log.cause == "did not go in"
    assert len(cell.asked("insert")) == 1 + chart.elements[6].recoveries[0].times


def test_places_of_a_search_leave_no_gap(chart: Chart) -> None:
    """Any point within two thirds of the reach lies within what is caught around some place."""
    (recovery,) = chart.elements[6].recoveries
    caught = 0.5e-3 + 2.5e-6
    places = np.array([offset(recovery, n) if n else (0.0, 0.0) for n in range(recovery.times + 1)])
    assert np.hypot(*places.T).max() <= 1e-3 + 1e-12
    rng = np.random.default_rng(7)
    radius, angle = 0.67e-3 * np.sqrt(rng.uniform(size=2000)), rng.uniform(0, 2 * np.pi, 2000)
    points = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    nearest = np.linalg.norm(points[:, None] - places[None], axis=2).min(axis=1)
    assert nearest.max() <= caught


def test_an_unlikely_touch_is_asked_about_once(project: Project, chart: Chart) -> None:
    """0.3 mm is one sigma of the reading here."""
    far, near = GuardedResult(True, TRAVEL + 1.2e-3), GuardedResult(True, TRAVEL + 0.3e-3)
    cell = ScriptedCell(project, touches=[far, near])
    log = execute(project, chart, ledger(), cell, recover=True)
    assert log.ended == "done", log.reason
    assert lines(log, "correction")[-1].value("x") == pytest.approx(0.3e-3)
    cell = ScriptedCell(project, touches=[far, far])  # it repeats, and is not impossible: believed
    log = execute(project, chart, ledger(), cell, recover=True)
    assert log.ended == "done"
    assert lines(log, "correction")[-1].value("x") == pytest.approx(1.2e-3)
    impossible = GuardedResult(True, TRAVEL + 1.8e-3)
    log = execute(project, chart, ledger(), ScriptedCell(project, touch=impossible), recover=True)
    assert (log.ended, log.cause) == ("stopped", "unlikely touch")
    assert "+1.80 mm from where it was expected, which is 6.0 sigma" in log.reason


def test_no_contact_is_tried_once_more(project: Project, chart: Chart) -> None:
    nothing = GuardedResult(False, 0.007)
    cell = ScriptedCell(project, touches=[nothing, GuardedResult(True, TRAVEL)])
    assert execute(project, chart, ledger(), cell, recover=True).ended == "done"
    cell = ScriptedCell(project, touch=nothing)
    log = execute(project, chart, ledger(), cell, recover=True)
    assert (log.cause, len(cell.asked("guarded_move"))) == ("no contact", 2)


def test_jaws_that_meet_nothing_do_not_close_again(project: Project, chart: Chart) -> None:
    cell = ScriptedCell(project, width=0.0)
    log = execute(project, chart, None, cell, recover=True)
    assert (log.cause, len(cell.asked("grip"))) == ("missing part", 1)
    assert "there is no pin at place.tray.pin; put pin right" in log.reason


def test_jaws_on_a_wrong_width_close_once_more(project: Project, chart: Chart) -> None:
    cell = ScriptedCell(project, widths=[0.0089, 0.008])
    assert execute(project, chart, None, cell, recover=True).ended == "done"
    cell = ScriptedCell(project, width=0.0089)
    log = execute(project, chart, None, cell, recover=True)
    assert (log.cause, len(cell.asked("grip"))) == ("wrong width", 2)


def test_jaws_that_moved_since_they_closed_have_slipped(project: Project, chart: Chart) -> None:
    class Slipping(ScriptedCell):
        def zero_force(self, arm: str) -> None:
            self.stands[arm] = 0.0075  # as the touch begins

    cell = Slipping(project)
    log = execute(project, chart, ledger(), cell, recover=True)
    assert (log.ended, log.cause) == ("stopped", "slipped")
    assert "8.00 mm when they closed on pin and stand at 7.50 mm now" in log.reason
    assert not cell.asked("insert")


@pytest.mark.parametrize(("turn", "how"), [(np.pi, "upside down"), (np.pi / 2, "on its side, 90 deg over")])
def test_a_part_that_lies_wrong_is_seen_before_the_hand_goes(
    project: Project, chart: Chart, turn: float, how: str
) -> None:
    cell = ScriptedCell(project, seen=in_place(project, turn))
    log = execute(project, chart, None, cell, recover=True)
    assert log.cause == "upside down"
    assert f"pin lies {how} at place.tray.pin; turn pin over" in log.reason
    assert not cell.asked("move")


def test_a_part_that_is_not_seen_is_not_reached_for(project: Project, chart: Chart) -> None:
    cell = ScriptedCell(project, blind=True)
    log = execute(project, chart, None, cell, recover=True)
    assert log.cause == "missing part"
    assert not cell.asked("move")


def test_a_part_that_lies_elsewhere_is_picked_where_it_was_seen(project: Project, chart: Chart) -> None:
    cell = ScriptedCell(project, seen=in_place(project, x=0.004))
    assert execute(project, chart, None, cell, recover=True).ended == "done"
    reach, lift, away = [c[2] for c in cell.calls if c[0] == "move" and isinstance(c[2], Motion)][1:4]
    planned = [chart.elements[0].motions[1], *chart.elements[2].motions]
    ends = [
        (tips(project, m)[1] @ se3.inverse(tips(project, p)[1]))[:3, 3]
        for m, p in zip((reach, lift, away), planned, strict=True)
    ]
    assert ends[0] == pytest.approx([0.004, 0, 0], abs=1e-7)
    assert ends[1] == pytest.approx([0.004, 0, 0], abs=1e-7)
    assert ends[2] == pytest.approx([0, 0, 0], abs=1e-7)
    far = ScriptedCell(project, seen=in_place(project, x=0.02))
    log = execute(project, chart, None, far, recover=True)
    assert (log.cause, far.asked("move")) == ("lies elsewhere", [])


def test_an_arm_that_is_stopped_on_its_way_says_so(project: Project, chart: Chart) -> None:
    class Snagged(ScriptedCell):
        def move(self, arm: str, motion: Motion) -> None:
            if len(self.asked("move")) == 3:
                raise ObstructedError("the right arm met 60 N on its way and stands")
            super().move(arm, motion)

    log = execute(project, chart, None, Snagged(project), recover=True)
    assert log.cause == "obstructed"
    assert "hoses" in log.reason


def test_a_screw_that_stops_early_is_not_called_seated(project: Project) -> None:
    """`_judge_screw`, on its own: turns of a driven element against those that were made."""
    from handfast.execution.cell import DriveResult
    from handfast.execution.failure import FailureError
    from handfast.execution.joining import _judge_screw

    mate = bench_project().product.mates[0]
    element = replace(bench_chart(project).elements[0], turns=8 * 2 * np.pi)
    _judge_screw(element, mate, DriveResult(True, "", 1.8, 7.6 * 2 * np.pi))
    for turns in (7.0, 9.2):
        with pytest.raises(FailureError, match=r"8\.00 were expected") as failed:
            _judge_screw(element, mate, DriveResult(True, "", 1.8, turns * 2 * np.pi))
        assert failed.value.cause == "screw not seated"


def test_edited_charts_are_refused_as_a_whole(project: Project, chart: Chart) -> None:
    """The last element is wrong: nothing moves at all."""
    cell = ScriptedCell(project)
    log = execute(project, edited(chart, 8, object="cover"), None, cell, recover=True)
    assert (log.cause, cell.calls) == ("chart", [])
