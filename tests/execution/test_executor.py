from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from tests.execution.scripted_cell import ScriptedCell
from tests.trials.bench_chart import TRAVEL, bench_chart, bench_project, ledger

from handfast.execution.cell import GuardedResult, InsertResult
from handfast.execution.executor import execute
from handfast.kinematics.chain import load_chain
from handfast.kinematics.forward import forward
from handfast.model.chart import Chart
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.model.run_log import LogLine, RunLog
from handfast.spatial import se3
from handfast.spatial.se3 import Array


@pytest.fixture(scope="module")
def project() -> Project:
    return bench_project()


@pytest.fixture(scope="module")
def chart(project: Project) -> Chart:
    return bench_chart(project)


def lines(log: RunLog, event: str) -> list[LogLine]:
    return [ln for ln in log.lines if ln.event == event]


def tips(project: Project, motion: Motion) -> Array:
    """T_world_tip at the first and the last knot."""
    chain = load_chain(project.cell.arm(motion.arm), project.folder)
    return forward(chain, np.array([motion.q[0], motion.q[-1]]))


def motions(cell: ScriptedCell) -> list[Motion]:
    """Everything that was moved along, insertions among it, in order."""
    return [c[2] for c in cell.calls if c[0] in ("move", "insert") and isinstance(c[2], Motion)]


def edited(chart: Chart, number: int, **more: object) -> Chart:
    elements = tuple(replace(e, **more) if e.number == number else e for e in chart.elements)  # type: ignore[arg-type]
    return replace(chart, elements=elements)


def test_commands_come_in_the_order_of_the_chart(project: Project, chart: Chart) -> None:
    cell = ScriptedCell(project)
    shuffled = replace(chart, elements=tuple(reversed(chart.elements)))
    log = execute(project, shuffled, None, cell, chart_sha256="abc")
    assert (log.ended, log.reason, log.chart_sha256, log.cell) == ("done", "", "abc", "scripted")
    named = [c[0] for c in cell.calls]
    assert named == [
        "locate", "release", "move", "move", "grip", "set_payload", "move", "move", "move", "pause",
        "zero_force", "guarded_move",
        "move", "move", "move", "zero_force", "insert", "release", "set_payload", "move",
        "locate",
    ]  # fmt: skip
    assert cell.asked("set_payload") == [("right", 0.016), ("right", 0.0)]
    assert [ln.element.split("/")[1] for ln in lines(log, "done")] == [
        f"{e.number:02d}-{e.kind}-right" for e in chart.elements
    ]


def test_the_guarded_move_goes_along_the_face_normal_in_the_world(project: Project, chart: Chart) -> None:
    cell = ScriptedCell(project)
    execute(project, chart, None, cell)
    ((arm, direction, travel, overtravel, _, speed),) = cell.asked("guarded_move")
    assert arm == "right"
    assert direction == pytest.approx((1.0, 0.0, 0.0), abs=1e-9)
    assert (travel, overtravel, speed) == (TRAVEL, 0.003, 0.005)


def test_without_a_surprise_the_planned_motions_are_commanded(project: Project, chart: Chart) -> None:
    cell = ScriptedCell(project)
    execute(project, chart, ledger(), cell)
    locate = chart.elements[3]
    left_out = {
        id(locate.motions[1]),
        id(locate.motions[2]),
    }  # the guarded move and its way back are the cell's
    planned = [m for e in chart.elements for m in e.motions if id(m) not in left_out]
    assert motions(cell) == planned


@pytest.mark.parametrize("surprise", [0.0007, -0.0004])
def test_a_touch_moves_every_later_target_by_what_it_found(
    project: Project, chart: Chart, surprise: float
) -> None:
    cell = ScriptedCell(project, touch=GuardedResult(True, TRAVEL + surprise))
    log = execute(project, chart, ledger(), cell)
    assert log.ended == "done"
    commanded = motions(cell)
    move, position, assemble, away = commanded[-4:]
    planned = [e.motions[0] for e in chart.elements[4:]]
    # The face was met further along +x: the bore lies further along +x too, and so does every target.
    found = np.array([surprise, 0.0, 0.0])
    for given, plan in zip((move, position, assemble, away), planned, strict=True):
        shift = tips(project, given)[1] @ se3.inverse(tips(project, plan)[1])
        assert shift[:3, 3] == pytest.approx(found, abs=1e-7)
        assert shift[:3, :3] == pytest.approx(np.eye(3), abs=1e-7)
    # Nothing jumps: each motion starts where the one before has ended.
    for before, after in pairwise(commanded):
        assert after.q[0] == pytest.approx(before.q[-1], abs=1e-7)
    (line,) = lines(log, "correction")
    assert dict(line.values)["x"] == pytest.approx(surprise)


def test_a_turn_is_taken_back_about_the_fixed_feature(project: Project, chart: Chart) -> None:
    cell = ScriptedCell(project, touch=GuardedResult(True, TRAVEL + 1e-3))
    execute(project, chart, ledger((0.0, 0.0, 0.0, 0.0, 0.0, 2.0)), cell)
    assemble = motions(cell)[-2]
    shift = tips(project, assemble)[1] @ se3.inverse(tips(project, chart.elements[6].motions[0])[1])
    # 2 mrad about the bore's z, which points down: taken back is +2 mrad about the world's z; the bore stays.
    assert se3.so3_log(shift[:3, :3]) == pytest.approx([0.0, 0.0, 2e-3], abs=1e-7)
    in_block = project.product.part("block").feature("bore").frame.position
    bore = np.array([in_block[0], 0.45 + in_block[1], 0.015 + in_block[2], 1.0])
    assert (shift @ bore)[:3] == pytest.approx(bore[:3], abs=1e-7)


def test_updates_of_another_mate_leave_this_one_alone(project: Project, chart: Chart) -> None:
    cell = ScriptedCell(project, touch=GuardedResult(True, TRAVEL + 1e-3))
    execute(project, chart, ledger(mate="cover-on-block"), cell)
    assert motions(cell)[-2] == chart.elements[6].motions[0]


def test_updates_of_another_touch_say_nothing_about_this_one(project: Project, chart: Chart) -> None:
    cell = ScriptedCell(project, touch=GuardedResult(True, TRAVEL + 1e-3))
    told = ledger()
    other = replace(told, updates=(replace(told.updates[0], element="pin-in-bore/02-locate-left"),))
    execute(project, chart, other, cell)
    assert motions(cell)[-2] == chart.elements[6].motions[0]


def test_what_was_taken_is_no_longer_in_its_place(project: Project, chart: Chart) -> None:
    again = replace(chart.elements[1], id="again", number=9, hand="left", start_s=99.0)
    log = execute(project, replace(chart, elements=(*chart.elements, again)), None, ScriptedCell(project))
    assert log.reason == "element again: pin should be at place.tray.pin and is at part.block"
    early = replace(again, start_s=chart.elements[2].start_s - 1e-6)
    log = execute(project, replace(chart, elements=(*chart.elements, early)), None, ScriptedCell(project))
    assert log.reason == "element again: pin should be at place.tray.pin and is at hand.right"


def test_without_touches_locate_is_left_out(project: Project, chart: Chart) -> None:
    cell = ScriptedCell(project)
    # The touch begins and ends at one pose, so leaving it out leaves no gap.
    log = execute(project, chart, ledger(), cell, touches=False)
    assert log.ended == "done", log.reason
    assert not cell.asked("guarded_move")
    assert not [ln for ln in log.lines if "locate" in ln.element]


@pytest.mark.parametrize("width", [0.0, 0.0074, 0.0086])
def test_jaws_on_something_else_stop_the_run(project: Project, chart: Chart, width: float) -> None:
    cell = ScriptedCell(project, width=width)
    log = execute(project, chart, None, cell)
    assert log.ended == "stopped"
    assert "element pin-in-bore/02-grasp-right: " in log.reason
    assert f"{width * 1e3:.2f} mm" in log.reason
    assert "put pin right" in log.reason
    assert cell.calls[-1][0] == "grip"
    assert lines(log, "stop")[0].text == log.reason


def test_no_contact_stops_the_run(project: Project, chart: Chart) -> None:
    cell = ScriptedCell(project, touch=GuardedResult(False, 0.007))
    log = execute(project, chart, ledger(), cell)
    assert log.ended == "stopped"
    assert "pin did not meet block within 7.0 mm" in log.reason
    assert cell.calls[-1][0] == "guarded_move"


def test_an_insertion_is_tried_once(project: Project, chart: Chart) -> None:
    cell = ScriptedCell(project, insertion=InsertResult(False, "missed the chamfer", 0.001, 38.0))
    log = execute(project, chart, None, cell)
    assert "pin-in-bore did not go in: missed the chamfer (peak 38.0 N, 1.0 mm on its way)" in log.reason
    assert len(cell.asked("insert")) == 1
    assert cell.calls[-1][0] == "insert"


def test_the_force_limit_keeps_the_grip(project: Project, chart: Chart) -> None:
    cell = ScriptedCell(project)
    execute(project, chart, None, cell)
    # 50 N for the mate, but the grasp slips at 76 N and is used to half of it.
    assert cell.asked("insert")[0][2] == 38.0


@pytest.mark.parametrize(
    ("number", "change", "expected"),
    [
        (2, {"target": "hand.left"}, "pin should be at hand.left and is at place.tray.pin"),
        (3, {"object": "cover"}, "should hold cover and holds pin"),
        (4, {"guarded": None}, "guarded move are not described"),
        (8, {"leaves": None}, "nobody says where pin is"),
        (5, {"hand": "third"}, "there is no third hand in this cell; there are: left, right"),
    ],
)
def test_what_a_chart_gets_wrong_stops_before_anything_is_commanded(
    project: Project, chart: Chart, number: int, change: dict[str, object], expected: str
) -> None:
    cell = ScriptedCell(project)
    log = execute(project, edited(chart, number, **change), None, cell)
    assert log.ended == "stopped"
    assert expected in log.reason
    assert log.cause == "chart"
    assert not cell.calls


def test_a_motion_that_starts_elsewhere_is_not_commanded(project: Project, chart: Chart) -> None:
    wrong = chart.elements[5].motions[0]
    off = replace(wrong, q=tuple(tuple(v + 0.01 for v in q) for q in wrong.q))
    cell = ScriptedCell(project)
    log = execute(project, edited(chart, 6, motions=(off,)), None, cell)
    assert "starts 0.573 deg from where the right arm then stands" in log.reason
    assert off not in motions(cell)


def test_a_mate_waits_for_what_it_needs(project: Project, chart: Chart) -> None:
    product = project.product
    needing = replace(product, mates=(replace(product.mates[0], needs=("cover-on-block",)),))
    log = execute(replace(project, product=needing), chart, None, ScriptedCell(project))
    assert "pin-in-bore needs cover-on-block done before it" in log.reason
