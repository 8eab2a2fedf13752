"""A seated part lies flat on what it sits on once it is let go; by the drawing, and turned by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from handfast.files.project_reader import read_project
from handfast.kinematics.chain import load_chain
from handfast.mates.home import assembled_poses
from handfast.model.project import Project
from handfast.spatial import se3
from handfast.trials.coming_to_lie import come_to_lie
from handfast.trials.draw import Draws
from handfast.trials.true_cell import TrueCell

PUMP = Path(__file__).parents[2] / "projects" / "dosing-pump"
OFF = np.array([30e-6, -20e-6, 80e-6, 1.2e-3, -0.7e-3, 0.4e-3])


@pytest.fixture(scope="module")
def pump() -> Project:
    project, _ = read_project(PUMP)
    assert project is not None
    return project


def home(project: Project, part: str, into: str) -> np.ndarray:
    poses = assembled_poses(project.product)
    return se3.inverse(poses[into]) @ poses[part]


def left_tilted(project: Project, part: str, into: str) -> TrueCell:
    chains = {a.name: load_chain(a, project.folder) for a in project.cell.arms}
    cell = TrueCell(project, chains, Draws((), 3, 0))
    cell.attach(part, f"part.{into}", home(project, part, into) @ se3.exp(OFF))
    return cell


def test_a_block_let_go_tilted_lies_flat_on_the_floor_of_its_pocket(pump: Project) -> None:
    cell = left_tilted(pump, "lower_block", "body")
    drive = pump.product.part("lower_block").feature("outer_drive").frame.matrix
    before = cell.items["lower_block"].T_parent_item @ drive
    come_to_lie(cell, "lower_block")
    after = cell.items["lower_block"].T_parent_item @ drive
    drawn = home(pump, "lower_block", "body") @ drive
    assert after[:2, 3] == pytest.approx(before[:2, 3], abs=1e-12)
    assert after[2, 3] == pytest.approx(drawn[2, 3], abs=1e-12)
    left = se3.log(se3.inverse(drawn) @ after)
    assert left[3:5] == pytest.approx([0.0, 0.0], abs=1e-9)
    # z of the shaft points down: the turn about it is the other way. Second order of two small turns: 1e-6.
    assert left[5] == pytest.approx(-OFF[5], abs=1e-6)


def test_what_stands_in_its_hole_or_is_still_in_the_hand_stays_as_it_is(pump: Project) -> None:
    cell = left_tilted(pump, "drive_gear", "lower_block")
    before = np.array(cell.items["drive_gear"].T_parent_item)
    come_to_lie(cell, "drive_gear")
    assert np.array_equal(before, cell.items["drive_gear"].T_parent_item)
    held = left_tilted(pump, "lower_block", "body")
    held.attach("lower_block", "hand.left", se3.exp(OFF))
    come_to_lie(held, "lower_block")
    assert np.array_equal(held.items["lower_block"].T_parent_item, se3.exp(OFF))
