"""What jaws do to a part that lies off: pads, fingers and grooves as drawn, sums by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.trials.bench_chart import GRASP, bench_chart, bench_project
from tests.trials.test_simulated_cell import at_the_pin, chains

from handfast.execution.cell import ObstructedError
from handfast.execution.executor import execute
from handfast.model.grasp import Grasp
from handfast.model.project import Project
from handfast.spatial import se3
from handfast.trials.draw import Draws
from handfast.trials.simulated_cell import SimulatedCell
from handfast.trials.true_cell import TrueCell
from handfast.trials.true_grasp import close_jaws, lift, nearest
from handfast.trials.true_jaws import between, grip_limits

# First-fit's jaws: fingers 18 mm wide and 12 mm thick, pressing with 90 N at a friction of 0.3; a V from the
# tip to 16 mm back, made for 3 to 12 mm. They stand 24 mm apart around a pin of 8 mm that is held 12 mm deep.
FLAT = replace(GRASP, zone="tip", closed=(False, True, False, True, False, False))


def off_by(*xyz: float, turned: float = 0.0, mass: float = 16e-3, centre: float = 0.0) -> TrueCell:
    """Open jaws around a pin that lies aside (x, y, z of the jaws) [m], turned about x of them [rad]."""
    project = heavy(bench_project(), mass, centre)
    cell = at_the_pin(project)
    T_world_jaw = cell.T_world_grip("right")
    T_pin = T_world_jaw @ se3.translation(*xyz) @ se3.rotation(np.array([1.0, 0, 0]), turned)
    T_place = cell.T_world("pin") @ se3.inverse(cell.items["pin"].T_parent_item)
    cell.attach("pin", "place.tray.pin", se3.inverse(T_place) @ T_pin @ GRASP.T_grip_part.matrix)
    return cell


def heavy(project: Project, mass: float, centre: float) -> Project:
    """The pin of another mass [kg], its centre of mass that far along z [m]."""
    parts = tuple(
        replace(p, mass=mass, centre_of_mass=(0.0, 0.0, centre)) if p.name == "pin" else p
        for p in project.product.parts
    )
    return replace(project, product=replace(project.product, parts=parts))


def close(cell: TrueCell, grasp: Grasp = GRASP, force: float = 90.0) -> float:
    return close_jaws(cell, "right", nearest(cell, "right", (grasp,)), force)


@pytest.mark.parametrize(
    ("xyz", "meets"),
    [
        ((0.0, 7.9e-3, 0.0), "between"),  # 8 mm to each side of the pin
        ((0.0, 8.1e-3, 0.0), "finger"),
        ((0.0, 27.9e-3, 0.0), "finger"),  # 8 mm, a finger of 12, and the pin's own 8
        ((0.0, 28.1e-3, 0.0), "beside"),
        ((4.2e-3, 0.0, 0.0), "between"),  # the V's mouth: 12 mm / 2 / sqrt 2 = 4.24 mm
        ((4.3e-3, 0.0, 0.0), "land"),
        ((8.9e-3, 0.0, 0.0), "land"),
        ((9.1e-3, 0.0, 0.0), "beside"),  # the finger is 18 mm wide
        ((0.0, 0.0, 7.9e-3), "between"),  # the pin's end 8 mm past the tips: it leaves them there
        ((0.0, 0.0, 8.1e-3), "beside"),
    ],
)
def test_where_the_part_lies_decides_how_the_jaws_come_upon_it(xyz: tuple[float, ...], meets: str) -> None:
    assert between(off_by(*xyz), "right", GRASP).meets == meets


def test_a_part_pushed_by_one_jaw_comes_to_their_middle_and_keeps_what_they_leave_free() -> None:
    cell = off_by(2e-3, 5e-3, 1e-3)
    width = close(cell)
    found = between(cell, "right", GRASP)
    assert found.off[:2] == pytest.approx([0, 0], abs=1e-12)
    assert found.off[2] == pytest.approx(1e-3, abs=1e-12)
    assert width == pytest.approx(8e-3, abs=15e-6)
    flat = off_by(2e-3, 5e-3, 1e-3)
    close(flat, FLAT)
    assert between(flat, "right", FLAT).off == pytest.approx([2e-3, 0, 1e-3], abs=1e-12)


def test_a_finger_that_comes_down_on_a_part_is_stopped() -> None:
    with pytest.raises(ObstructedError, match=r"came down on pin, which lies 9\.0 mm beside"):
        close(off_by(0.0, 9e-3, 0.0))


def test_beside_the_groove_the_jaws_stand_wider_and_the_part_stays_behind() -> None:
    """On the lands the gap is 8 mm, in the grooves sqrt 2 x 8 less twice their depth, which is 4.24 mm."""
    cell = off_by(6e-3, 0.0, 0.0)
    lies = cell.T_world("pin")
    assert close(cell) - 8e-3 == pytest.approx(8e-3 - (math.sqrt(2) * 8e-3 - 2 * 4.2426e-3), abs=2e-5)
    assert lift(cell, "right") == "pin"
    assert (cell.hands["right"].holds, cell.hands["right"].width) == (None, 0.0)
    assert cell.T_world("pin") == pytest.approx(lies, abs=1e-12)


def test_a_pin_on_its_edge_is_told_by_the_width() -> None:
    """Turned by 0.3 rad about x: 8 cos 0.3 and what bears, 8 mm, sin 0.3."""
    cell = off_by(0.0, 0.0, 0.0, turned=0.3)
    bears = between(cell, "right", GRASP).bears[1]
    assert close(cell) == pytest.approx(8e-3 * math.cos(0.3) + bears * math.sin(0.3), abs=2e-5)
    assert lift(cell, "right") == "pin"


def test_friction_and_bearing_limit_what_is_held() -> None:
    """Flat pads: 2 x 0.3 x 90 N; the V, four flanks: 4 x 0.3 x 90 / sqrt 2. A line of 8 mm turns at a quarter
    of that length."""
    cell = off_by(0.0, 0.0, 0.0)
    force, torque = grip_limits(cell, between(cell, "right", FLAT), 90.0)
    assert (force, torque) == pytest.approx((54.0, 54.0 * 8e-3 / 4))
    assert grip_limits(cell, between(cell, "right", GRASP), 90.0)[0] == pytest.approx(76.37, abs=0.01)


@pytest.mark.parametrize(
    ("mass", "centre", "force", "stays"),
    [
        (16e-3, 0.0, 90.0, True),
        (16e-3, 0.0, 0.3, True),  # 0.18 N of friction hold 0.157 N of weight
        (16e-3, 0.0, 0.25, False),  # 0.15 N do not
        (5.4, 0.0, 90.0, True),  # 54 N hold 52.96 N
        (5.6, 0.0, 90.0, False),
    ],
)
def test_what_friction_does_not_hold_stays_behind(
    mass: float, centre: float, force: float, stays: bool
) -> None:
    cell = off_by(0.0, 0.0, 0.0, mass=mass, centre=centre)
    close(cell, FLAT, force)
    assert (lift(cell, "right") == "") is stays


class Weak(SimulatedCell):
    """Jaws that press with another force than they were told [N]."""

    def __init__(self, project: Project, force: float) -> None:
        super().__init__(project, chains(project), Draws((), 7, 0), (GRASP,))
        self.presses = force

    def grip(self, arm: str, width: float, force: float) -> float:
        return super().grip(arm, width, self.presses)


@pytest.mark.parametrize(
    ("off", "cause", "told", "known"),
    [
        ({"x": 6.5e-3}, "wrong width", "it lies wrong or is another part", "the jaws caught pin by an edge"),
        ({"x": 9.5e-3}, "missing part", "there is no pin", "the jaws missed pin"),
        ({"y": 8.5e-3}, "obstructed", "came down on pin", "a finger of the right hand came down on pin"),
    ],
)
def test_far_off_parts_stop_the_run_by_their_cause(
    off: dict[str, float], cause: str, told: str, known: str
) -> None:
    """Without a camera, which would see them first."""
    project = bench_project()
    blind = replace(project, cell=replace(project.cell, cameras=()))
    cell = SimulatedCell(blind, chains(blind), Draws((), 7, 0), (GRASP,))
    lies = cell.truth.items["pin"]
    aside = se3.translation(off.get("x", 0.0), off.get("y", 0.0), 0.0)
    cell.truth.attach("pin", lies.parent, aside @ lies.T_parent_item)
    log = execute(blind, bench_chart(blind), None, cell)
    assert (log.ended, log.cause) == ("stopped", cause)
    assert told in log.reason
    assert [(t.mate, t.outcome) for t in cell.tries] == [("pin-in-bore", "failed")]
    assert cell.tries[0].cause.startswith(known)


def test_a_grip_too_soft_for_the_weight_loses_the_part_and_is_told() -> None:
    project = bench_project()
    cell = Weak(project, 0.15)  # 4 x 0.3 x 0.15 / sqrt 2 = 0.127 N, for 0.157 N
    log = execute(project, bench_chart(project), None, cell)
    assert (log.ended, log.cause) == ("stopped", "slipped")
    assert "has slipped in them or was lost" in log.reason
    assert [(t.outcome, t.cause) for t in cell.tries] == [("failed", "pin is too heavy for the grip")]


def test_a_grip_too_soft_for_the_touch_meets_nothing() -> None:
    project = bench_project()
    cell = Weak(project, 2.5)  # 2.1 N, for a touch of 3 N
    log = execute(project, bench_chart(project), None, cell)
    assert (log.ended, log.cause) == ("stopped", "no contact")


@pytest.mark.parametrize(("force", "slips"), [(90.0, False), (5.0, True)])
def test_a_grip_too_soft_for_the_insertion_is_seen_afterwards(force: float, slips: bool) -> None:
    """The bore stands 0.3 mm aside: the lead-in pushes the pin over, against 20 N/mm, with 6 N and as much
    again along the way. Jaws that hold 4.2 N let it slide; the hand goes home and feels nothing."""
    project = bench_project()
    cell = Weak(project, force)
    lies = cell.truth.items["block"]
    cell.truth.attach("block", lies.parent, se3.translation(3e-4, 0, 0) @ lies.T_parent_item)
    log = execute(project, bench_chart(project), None, cell, touches=False)
    assert log.ended == ("stopped" if slips else "done"), log.reason
    assert [t.outcome for t in cell.tries] == ["failed" if slips else "ok"]
    if slips:
        assert log.cause == "did not go in"
        assert "from its place on block after the right hand let go" in log.reason
        assert cell.tries[0].cause == "pin slipped in the jaws: they hold 4.2 N"
        assert "put it where it started" in log.reason
