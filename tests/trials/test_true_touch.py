"""Where true shapes meet a true face, against distances worked out by hand from corners and rims."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.trials.bench_chart import FOLDER, bench_project

from handfast.files.project_reader import read_project
from handfast.kinematics.chain import Chain, load_chain
from handfast.model.feature import Chamfer
from handfast.model.project import Project
from handfast.spatial import se3
from handfast.trials.draw import Draws
from handfast.trials.true_cell import TrueCell
from handfast.trials.true_touch import Meeting, first_meeting

Array = NDArray[np.float64]
INTO = np.array([1.0, 0.0, 0.0])
Y, Z = np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0])


def chains(project: Project) -> dict[str, Chain]:
    return {a.name: load_chain(a, project.folder) for a in project.cell.arms}


def block_end(project: Project) -> Array:
    cell = TrueCell(project, chains(project), Draws((), 7, 0))
    return cell.T_world_feature("block", "end")


def meeting(project: Project, item: str, T_world_item: Array) -> Meeting:
    cell = TrueCell(project, chains(project), Draws((), 7, 0))
    cell.attach(item, "hand.right", np.eye(4))
    found = first_meeting(cell, item, T_world_item, INTO)
    assert found is not None
    assert (found.part, found.face) == ("block", "end")
    return found


def beside(project: Project, gap: float, up: float, R: Array) -> Array:
    """The item's origin `gap` before the end face and `up` above its middle [m]."""
    T = block_end(project)
    assert T[:3, 2] == pytest.approx([-1.0, 0.0, 0.0])
    x, y, z = T[:3, 3] + np.array([-gap, 0.0, up])
    return se3.translation(x, y, z) @ R


@pytest.mark.parametrize("degrees", [10.0, 25.0, 40.0])
def test_a_tilted_pin_meets_the_face_with_the_rim_of_its_tip(degrees: float) -> None:
    """20 mm below its middle and 4 mm off its axis, less 2.5 to 7 um (8 g6); the tip swings towards the
    face.
    """
    angle = math.radians(degrees)
    project = bench_project()
    found = meeting(project, "pin", beside(project, 0.03, 0.02, se3.rotation(Y, -angle)))
    lead = 0.02 * math.sin(angle) + 0.004 * math.cos(angle)
    assert 2.4e-6 * math.cos(angle) <= found.travel - (0.03 - lead) <= 7e-6 * math.cos(angle)


def test_a_chamfered_end_meets_the_face_further_back_than_a_sharp_one() -> None:
    """Tilted by 25 deg the edge between chamfer and flank leads, 0.8 mm up from the end: 0.34 mm further back
    than the corner that a sharp end would have there.
    """
    angle = math.radians(25)
    project = bench_project()
    top = project.product.part("pin").feature("top")
    assert top.chamfer == Chamfer(0.0008, math.radians(45))
    upside_down = se3.rotation(Y, math.pi - angle)
    found = meeting(project, "pin", beside(project, 0.03, 0.02, upside_down))
    lead = (0.02 - 0.0008) * math.sin(angle) + 0.004 * math.cos(angle)
    assert 2.4e-6 * math.cos(angle) <= found.travel - (0.03 - lead) <= 7e-6 * math.cos(angle)


def whole_project() -> Project:
    found, findings = read_project(FOLDER)
    assert found is not None, findings
    places = replace(found.cell.holder("nest").places[0], slack=0.0)
    holders = tuple(replace(h, places=(places,)) if h.name == "nest" else h for h in found.cell.holders)
    return replace(found, errors=(), cell=replace(found.cell, holders=holders))


def test_a_plate_turned_off_the_face_meets_it_with_its_corner() -> None:
    """The cover, 96 by 46 mm, turned by 30 deg: its corner leads by 48 cos 30 + 23 sin 30."""
    project, angle = whole_project(), math.radians(30)
    cell = TrueCell(project, chains(project), Draws((), 7, 0))
    cell.attach("cover", "hand.right", np.eye(4))
    T = cell.T_world_feature("block", "end")
    x, y, z = T[:3, 3] + np.array([-0.08, 0.0, 0.0])
    found = first_meeting(cell, "cover", se3.translation(x, y, z) @ se3.rotation(Z, angle), INTO)
    assert found is not None
    lead = 0.048 * math.cos(angle) + 0.023 * math.sin(angle)
    assert found.travel == pytest.approx(0.08 - lead, abs=2e-6)


def test_a_screw_on_its_bit_touches_though_the_hand_holds_the_driver() -> None:
    """M4, ISO 4762: the head is 7 mm across; drawn as a mesh, so its facets may lie 20 um inside."""
    project = whole_project()
    cell = TrueCell(project, chains(project), Draws((), 7, 0))
    T_bit_screw = se3.translation(0, 0, 0.002) @ se3.rotation(np.array([1.0, 0, 0]), math.pi)
    cell.attach("driver", "hand.right", np.eye(4))
    cell.attach("screw", "tool.driver", T_bit_screw)
    bit = project.cell.tool("driver").bit.matrix
    T = cell.T_world_feature("block", "end")
    x, y, z = T[:3, 3] + np.array([-0.01, 0.0, 0.0])
    # The screw upright, the underside of its head at the middle of the face.
    T_world_driver = se3.translation(x, y, z) @ se3.inverse(bit @ T_bit_screw)
    found = first_meeting(cell, "driver", T_world_driver, INTO)
    assert found is not None
    assert -1e-9 <= found.travel - (0.01 - 0.0035) <= 20e-6
