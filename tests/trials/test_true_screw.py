"""The geometric rule for screws, in the first-fit product."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from handfast.files.project_reader import read_project
from handfast.kinematics.chain import load_chain
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.draw import Draws
from handfast.trials.true_cell import TrueCell
from handfast.trials.true_screw import driven, screw_start, take_up

BLOCK = se3.translation(0.0, 0.45, 0.015)
FOLDER = Path(__file__).parents[2] / "projects" / "first-fit"


def ready(cover_off: float = 0.0) -> TrueCell:
    """The cover on the block, the screw on the bit, the driver in the right hand."""
    project, findings = read_project(FOLDER)
    assert project is not None, findings
    chains = {a.name: load_chain(a, project.folder) for a in project.cell.arms}
    cell = TrueCell(replace(project, errors=()), chains, Draws((), 7, 0))
    cell.attach("block", "dropped", BLOCK)
    cell.attach("cover", "part.block", se3.translation(cover_off, 0, 0.03))
    driver = project.cell.tool("driver")
    bit_of_point = se3.rotation(np.array([1.0, 0, 0]), math.pi) @ se3.translation(0, 0, 0.012)
    cell.attach("screw", "tool.driver", se3.inverse(driver.bit.matrix) @ bit_of_point)
    cell.attach("driver", "hand.right", np.eye(4))
    return cell


def start(cell: TrueCell, T_world_point: Array) -> str:
    """What becomes of the screw with its point there: the grip goes where it has to for that."""
    mate = cell.project.product.mate("cover-screw")
    T_grip_point = cell.T_world("screw", T_world_grip=np.eye(4)) @ cell.project.product.part("screw").feature(
        "shank").frame.matrix  # fmt: skip
    return screw_start(cell, mate, T_world_point @ se3.inverse(T_grip_point)).cause


def aside(x: float, tilt: float = 0.0) -> Array:
    mouth = ready().T_world_feature("block", "tapped")
    return np.asarray(se3.translation(x, 0, 0) @ mouth @ se3.rotation(np.array([0.0, 1, 0]), tilt))


def test_the_cover_hole_lets_the_point_through_by_its_room() -> None:
    # 4.5 mm hole, M4 screw: 0.25 mm all round; neither has a chamfer.
    assert start(ready(), aside(0.24e-3)) == ""
    assert start(ready(), aside(0.26e-3)) == "the screw's point missed the hole in cover"


def test_the_threads_chamfer_catches_the_point() -> None:
    # 0.4 mm wide; the cover's hole stands aside as well, so that it lets the point through.
    assert start(ready(0.2e-3), aside(0.39e-3)) == ""
    assert start(ready(0.2e-3), aside(0.41e-3)) == "the screw's point missed the thread"


def test_the_cover_has_to_stand_over_the_thread() -> None:
    assert start(ready(0.24e-3), aside(0.1e-3)) == ""
    assert start(ready(0.26e-3), aside(0.1e-3)) == "the hole in cover does not stand over the thread"


def test_an_oblique_screw_catches_the_wrong_turn() -> None:
    # Half a pitch over the diameter: atan(0.35 / 4) = 5.0 deg for M4 (pitch 0.7 mm, ISO 261).
    limit = math.atan(0.35 / 4)
    assert start(ready(), aside(0.0, 0.99 * limit)) != "cross-threaded: the screw stands too oblique"
    assert start(ready(), aside(0.0, 1.01 * limit)) == "cross-threaded: the screw stands too oblique"


def test_a_driven_screw_stands_in_its_thread() -> None:
    cell = ready()
    driven(cell, cell.project.product.mate("cover-screw"), 0.0)
    assert cell.items["screw"].parent == "part.block"
    # Its head's underside comes to lie on the cover, 36 mm above the block's own underside.
    thread = cell.T_world_feature("block", "tapped")[:3, 3]
    assert cell.T_world("screw")[:3, 3] == pytest.approx([thread[0], thread[1], 0.015 + 0.036], abs=1e-9)


@pytest.mark.parametrize(("x", "taken"), [(0.0, True), (1.4e-3, True), (1.6e-3, False)])
def test_the_bit_takes_up_a_screw_within_its_socket(x: float, taken: bool) -> None:
    # The socket measures 3 mm across: the bit comes down within half of it.
    cell = ready()
    cell.attach("screw", "place.presenter.screw", np.eye(4))
    bottom = (
        cell.T_world("screw") @ se3.translation(x, 0, 0.002) @ se3.rotation(np.array([1.0, 0, 0]), math.pi)
    )
    cell.attach("driver", "dropped", bottom @ se3.inverse(cell.project.cell.tool("driver").bit.matrix))
    assert take_up(cell, "driver") == ("screw" if taken else None)
    if taken:
        apart = se3.inverse(cell.T_world_bit("driver")) @ cell.T_world("screw")
        assert np.hypot(apart[0, 3], apart[1, 3]) == pytest.approx(0.0, abs=1e-12)
