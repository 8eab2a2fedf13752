"""Hoses: planner and proof see them in the same place, and neither lets them run into anything."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.files.first_fit_copy import copy_to, edit

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.files.starter.answers import Answers, parse_answers
from handfast.kinematics.chain import load_chain
from handfast.kinematics.forward import forward_links
from handfast.model.chart import Chart
from handfast.model.hose import Hose
from handfast.model.project import Project
from handfast.model.shape import Cylinder, Solid, Sphere
from handfast.proof.arm_model import load_arm
from handfast.spatial.pose import Pose
from handfast.workflow import plan, verify
from handfast.workflow.new_project import new_project

BESIDE = """\
    hoses:
      air: {link: LINK, solids: [{sphere: {diameter: 60 mm}, at: {position: [0 mm, AWAY mm, 60 mm]}}]}
"""


def checked(folder: Path) -> CheckedProject:
    verdict = check_folder(folder)
    assert isinstance(verdict, CheckedProject), verdict
    return verdict


def with_hose(project: Project, hose: Hose) -> Project:
    arms = tuple(replace(arm, hoses=(hose,)) for arm in project.cell.arms)
    return replace(project, cell=replace(project.cell, arms=arms))


@pytest.fixture
def started(tmp_path: Path) -> Path:
    answers = parse_answers({})
    assert isinstance(answers, Answers)
    new_project(tmp_path / "first", answers)
    return tmp_path / "first"


def hose_in(folder: Path, link: str, away: int) -> int:
    text = BESIDE.replace("LINK", link).replace("AWAY", str(away))
    return edit(folder, "cell.yaml", "  left: &arm\n", f"  left: &arm\n{text}")


@pytest.mark.parametrize("link", ["base", "upper arm", "forearm", "hand"])
def test_planner_and_proof_put_a_layouts_hose_in_one_place(started: Path, link: str) -> None:
    hose_in(started, link, 120)
    project = checked(started).project
    in_one_place(project, link)


@pytest.mark.parametrize("link", ["base", "upper_arm", "wrist_roll", "flange"])
def test_planner_and_proof_put_a_urdfs_hose_in_one_place(tmp_path: Path, link: str) -> None:
    project = with_hose(checked(copy_to(tmp_path)).project, hose(link))
    in_one_place(project, link)


def hose(link: str) -> Hose:
    return Hose("air", link, (Solid(Sphere(0.03), Pose((0.0, 0.12, 0.06))),))


def in_one_place(project: Project, link: str) -> None:
    arm = project.cell.arms[0]
    chain, model = load_chain(arm, project.folder), load_arm(arm, Path(project.folder))
    (planned,) = [(i, s) for i, s in chain.solids if s.shape == Sphere(0.03)]
    (proven,) = [(joint, pieces) for name, joint, pieces in model.links if name == "hose air"]
    for q in np.random.default_rng(5).uniform(-2, 2, (5, 6)):
        mine = forward_links(chain, q)[0][planned[0] + 1] @ planned[1].pose.matrix
        theirs = model.joint_poses(q)[proven[0]] @ proven[1][0].T_body_shape
        np.testing.assert_allclose(mine, theirs, atol=1e-9)


def test_a_plan_keeps_a_hose_clear_and_the_proof_agrees(started: Path) -> None:
    hose_in(started, "forearm", 130)
    project = checked(started)
    chart = plan(project, seed=1)
    assert isinstance(chart.body, Chart)
    assert verify(project.project, chart).body.violations == ()


def test_a_hose_that_was_forgotten_is_found_by_the_proof(started: Path) -> None:
    project = checked(started)
    chart = plan(project, seed=1)
    assert isinstance(chart.body, Chart)
    assert verify(project.project, chart).body.violations == ()
    low = Hose("air", "hand", (Solid(Cylinder(0.02, 0.5), Pose((0.0, 0.15, 0.2))),))  # down to the table
    found = verify(with_hose(project.project, low), chart).body.violations
    assert any("hose air" in v.text and v.kind == "collision" for v in found)


@pytest.mark.slow
def test_a_plan_without_room_for_the_hose_says_no(started: Path) -> None:
    text = "    hoses:\n      air: {link: hand, solids: [{cylinder: {diameter: 40 mm, length: 500 mm}, "
    edit(
        started,
        "cell.yaml",
        "  left: &arm\n",
        f"  left: &arm\n{text}at: {{position: [0 mm, 150 mm, 200 mm]}}}}]}}\n",
    )
    no = plan(checked(started), seed=1).body
    assert not isinstance(no, Chart)
    assert any("collision" in cause.cause for cause in no.causes)


def test_a_link_that_there_is_none_of_is_named(started: Path) -> None:
    hose_in(started, "fore-arm", 120)
    verdict = check_folder(started)
    assert not isinstance(verdict, CheckedProject)
    found = [f for f in verdict if f.rule == "arm-unloadable"]
    assert found
    assert all("'fore-arm'" in f.found and "forearm" in f.found and ".hoses" in f.where for f in found)
