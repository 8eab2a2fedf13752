"""What happens in a simulated cell: planted errors go where the true frames take them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.trials.bench_chart import GRASP, bench_chart, bench_project, source

from handfast.execution.cell import CellError
from handfast.kinematics.chain import Chain, load_chain
from handfast.model.project import Project
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.trials.draw import Draws
from handfast.trials.simulated_cell import SimulatedCell
from handfast.trials.true_cell import TrueCell
from handfast.trials.true_grasp import close_jaws, nearest
from handfast.trials.true_touch import first_meeting

BESIDE = float(bench_project().product.part("block").feature("end").frame.position[0]) - 0.008


def chains(project: Project) -> dict[str, Chain]:
    return {a.name: load_chain(a, project.folder) for a in project.cell.arms}


def at_the_pin(project: Project) -> TrueCell:
    """The right hand stands around the pin in the tray, jaws open."""
    cell = TrueCell(project, chains(project), Draws(project.errors, 7, 0))
    cell.stand("right", np.array(bench_chart(project).elements[0].motions[-1].q[-1]))
    cell.hands["right"].width = 0.024
    return cell


def closed(cell: TrueCell, force: float = 90.0) -> float:
    """How wide the right jaws stand once they have closed [m]."""
    return close_jaws(cell, "right", nearest(cell, "right", (GRASP,)), force)


def eta(cell: TrueCell) -> np.ndarray:
    """The pin's deviation in the real jaws."""
    T_jaw = cell.T_world_grip("right") @ cell.T_grip_jaw("right")
    return se3.log(se3.inverse(T_jaw) @ cell.T_world("pin") @ se3.inverse(GRASP.T_grip_part.matrix))


def test_jaws_set_closed_freedoms_and_leave_the_free_ones() -> None:
    project = bench_project(
        source("place.tray.pin", 4e-4, 3e-4, 2e-4, 3e-3, 4e-3, 5e-3),
        source("arm.right.base", 1e-4, 1e-4, 1e-4, 1e-4, 1e-4, 1e-4),
        source("gripper.right_gripper.jaw", 2e-5, 2e-5, 2e-5, 3e-4, 3e-4, 3e-4),
    )
    cell = at_the_pin(project)
    before = eta(cell)
    assert np.abs(before).min() > 1e-6
    width = closed(cell)
    after = eta(cell)
    set_by_jaws = np.array(GRASP.closed)
    assert after[set_by_jaws] == pytest.approx(np.zeros(4), abs=1e-12)
    assert after[~set_by_jaws] == pytest.approx(before[~set_by_jaws], abs=1e-12)
    # The width is the pin's own: 8 g6 is 5 to 14 um under size (ISO 286-2).
    assert 8e-3 - 14e-6 <= width <= 8e-3 - 5e-6


def test_jaws_catch_nothing_where_nothing_lies() -> None:
    project = bench_project()
    tray = project.cell.holder("tray")
    moved = replace(tray, pose=Pose((0.25, 0.45, 0.0)))
    cell_of = replace(project.cell, holders=(project.cell.holder("nest"), moved))
    cell = at_the_pin(project)
    cell.project = replace(project, cell=cell_of)
    assert closed(cell) == 0.0
    assert cell.hands["right"].holds is None


def test_a_held_pin_follows_the_hand_and_drops_when_let_go_in_the_air() -> None:
    project = bench_project()
    cell = at_the_pin(project)
    closed(cell)
    chart = bench_chart(project)
    cell.stand("right", np.array(chart.elements[2].motions[0].q[-1]))
    assert cell.T_world("pin")[:3, 3] == pytest.approx([0.25, 0.4, 0.08], abs=1e-6)
    cell.let_go("right")
    assert cell.items["pin"].parent == "dropped"


def test_put_back_near_its_place_it_lies_there_as_it_was_let_go() -> None:
    cell = at_the_pin(bench_project(source("place.tray.pin", 4e-4, 3e-4)))
    closed(cell)
    held = cell.T_world("pin")
    cell.let_go("right")
    assert cell.items["pin"].parent == "place.tray.pin"
    assert cell.T_world("pin") == pytest.approx(held, abs=1e-12)


def test_each_stop_repeats_anew_and_the_base_stays() -> None:
    project = bench_project(
        source("arm.right.tip", 1e-4, 1e-4), source("arm.right.base", 1e-3, changes="installation")
    )
    cell = at_the_pin(project)
    q = cell.hands["right"].q
    first, base = cell.T_world_grip("right"), cell.T_base("right")
    assert cell.T_world_grip("right") == pytest.approx(first)
    cell.stand("right", q)
    assert np.abs(cell.T_world_grip("right") - first).max() > 1e-7
    assert cell.T_base("right") == pytest.approx(base)


def touched(project: Project, tilt: float = 0.0) -> float:
    """Travel of a pin that stands 4 mm beside the block's end face, held upright or tilted about y [m]."""
    cell = TrueCell(project, chains(project), Draws(project.errors, 7, 0))
    cell.attach("pin", "hand.right", np.eye(4))
    T_world_pin = se3.translation(BESIDE, 0.45, 0.057) @ se3.rotation(np.array([0.0, 1, 0]), tilt)
    meeting = first_meeting(cell, "pin", T_world_pin, np.array([1.0, 0, 0]))
    assert meeting is not None
    assert (meeting.part, meeting.face) == ("block", "end")
    return meeting.travel


def test_travel_to_contact() -> None:
    # The pin's axis stands 8 mm beside the face; its radius is 4 mm less 2.5 to 7 um (8 g6).
    assert 4e-3 + 2.5e-6 <= touched(bench_project()) <= 4e-3 + 7e-6


def test_travel_grows_with_the_face_and_falls_with_the_tilt() -> None:
    straight = touched(bench_project())
    project = bench_project(source("holder.nest", 5e-4, changes="shift"))
    moved = float(Draws(project.errors, 7, 0).twist(project.errors[0])[0])
    assert abs(moved) > 1e-5
    assert touched(project) - straight == pytest.approx(moved, abs=1e-9)
    # Tilted about y the tip, 20 mm below the middle, swings by -20 mm sin(tilt) along x; nothing touches
    # above the block: its face ends 12 mm under the pin's middle.
    for tilt in (0.02, -0.02):
        lowest = max(-s * np.sin(tilt) for s in (0.02, 0.012))
        assert touched(bench_project(), tilt) - straight == pytest.approx(-lowest, abs=2e-5)


def test_a_pin_that_passes_the_block_touches_nothing() -> None:
    project = bench_project()
    cell = TrueCell(project, chains(project), Draws((), 7, 0))
    cell.attach("pin", "hand.right", np.eye(4))
    high = se3.translation(BESIDE, 0.45, 0.07)
    assert first_meeting(cell, "pin", high, np.array([1.0, 0, 0])) is None
    assert first_meeting(cell, "pin", se3.translation(BESIDE, 0.45, 0.057), np.array([-1.0, 0, 0])) is None


def test_commands_that_make_no_sense_are_refused() -> None:
    project = bench_project()
    cell = SimulatedCell(project, chains(project), Draws((), 7, 0), (GRASP,))
    chart = bench_chart(project)
    with pytest.raises(CellError, match="holds nothing"):
        cell.guarded_move("right", (1.0, 0.0, 0.0), 0.004, 0.003, 3.0, 0.005)
    with pytest.raises(CellError, match="deg from where the right arm"):
        cell.move("right", chart.elements[2].motions[0])
    with pytest.raises(CellError, match=r"no signal 'driver\.light'"):
        cell.digital_out("driver.light", True)
