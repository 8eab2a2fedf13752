"""The cell at a moment: arms as an independent library places them, items where the chart says."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pinocchio
import pytest
from tests.page.first_fit_chart import HOME, first_fit_chart

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.kinematics.chain import load_chain
from handfast.model.project import Project
from handfast.page.moment import joints_at, moment, scene_at
from handfast.spatial.se3 import Array

CHART = first_fit_chart()
FOLDER = Path(__file__).parents[2] / "projects" / "first-fit"


@pytest.fixture(scope="module")
def project() -> Project:
    checked = check_folder(FOLDER)
    assert isinstance(checked, CheckedProject)
    return checked.project


def tip(project: Project, hand: str, q: Array) -> Array:
    """T_world_tip by pinocchio, which reads the URDF itself."""
    arm = project.cell.arm(hand)
    model = pinocchio.buildModelFromUrdf(str(FOLDER / arm.urdf))
    data = model.createData()
    pinocchio.framesForwardKinematics(model, data, q)
    base, flange = (data.oMf[model.getFrameId(name)].homogeneous for name in (arm.root, arm.tip))
    return np.asarray(arm.base.matrix @ np.linalg.inv(base) @ flange)


@pytest.mark.parametrize("time_s", [0.0, 0.7, 4.2, 6.3, 9.9, 14.4, 20.0, 26.5])
def test_hands_stand_where_pinocchio_puts_them(project: Project, time_s: float) -> None:
    when = moment(project, CHART, time_s)
    for arm in project.cell.arms:
        q = joints_at(CHART, load_chain(arm, project.folder), time_s)
        expected = tip(project, arm.name, q) @ project.cell.gripper_of(arm.name).mount.matrix
        np.testing.assert_allclose(when.hands[arm.name], expected, atol=1e-9)


def test_joints_follow_the_motion(project: Project) -> None:
    chain = load_chain(project.cell.arm("left"), project.folder)
    first = CHART.elements[0]
    motion = first.motions[0]
    np.testing.assert_allclose(joints_at(CHART, chain, 0.0), HOME, atol=1e-12)
    np.testing.assert_allclose(joints_at(CHART, chain, first.duration_s), motion.q[-1], atol=1e-12)
    # Constant acceleration from rest: after half the way's time, half the way; after a quarter, an eighth.
    quarter = joints_at(CHART, chain, first.duration_s / 4)
    np.testing.assert_allclose(quarter, HOME + (np.array(motion.q[-1]) - HOME) / 8, atol=1e-12)


@pytest.mark.parametrize(
    ("time_s", "item", "parent"),
    [
        (2.0, "pin", "place.tray.pin"),  # the jaws are still closing
        (2.3, "pin", "hand.left"),
        (4.9, "pin", "hand.right"),
        (11.4, "pin", "hand.right"),  # the jaws are still opening
        (11.6, "pin", "part.block"),
        (16.9, "screw", "tool.driver"),
        (27.3, "driver", "place.stand.driver"),
    ],
)
def test_items_are_attached_as_the_chart_says(time_s: float, item: str, parent: str) -> None:
    assert scene_at(CHART, time_s).of(item).parent == parent


def test_items_in_a_hand_move_with_it(project: Project) -> None:
    when = moment(project, CHART, 3.0)
    grasp = next(e.grasp for e in CHART.elements if e.grasp is not None)
    np.testing.assert_allclose(when.items["pin"], when.hands["left"] @ grasp.T_grip_part.matrix, atol=1e-12)


def test_everything_is_drawn(project: Project) -> None:
    names = {b.name for b in moment(project, CHART, 0.0).bodies}
    cell, product = project.cell, project.product
    groups = (cell.arms, cell.holders, cell.obstacles, cell.tools, product.parts)
    assert names == {x.name for group in groups for x in group}
