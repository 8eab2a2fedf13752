"""Pairs that are not coaxial, and parts that are squeezed: the pump's gears and its ring."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from handfast.files.project_reader import read_project
from handfast.mates.home import assembled_poses
from handfast.model.product import Product
from handfast.proof.allowances import Allowance, lasting
from handfast.proof.home import home_pose, pair_errors
from handfast.proof.mate_corridor import mate_corridor
from handfast.proof.squeeze import rings_taken_as_rigid, squeeze_of
from handfast.proof.tolerances import SKIN
from handfast.spatial import se3

FOLDER = Path(__file__).parents[2] / "projects" / "dosing-pump"


@pytest.fixture(scope="module")
def product() -> Product:
    project, findings = read_project(FOLDER)
    assert project is not None, findings
    return project.product


def test_every_pair_is_home_when_its_mate_is(product: Product) -> None:
    poses = assembled_poses(product)  # the planner's own reckoning
    for mate in product.mates:
        for pair, off, tilt in pair_errors(product, mate, poses[mate.part], poses.__getitem__):
            assert off < 1e-9, (mate.name, pair)
            assert tilt < 1e-9, (mate.name, pair)


def test_gears_too_far_apart_are_off(product: Product) -> None:
    poses = assembled_poses(product)
    mate = product.mate("idler-gear-in-mesh")
    moved = se3.translation(0.1e-3, 0.0, 0.0) @ poses[mate.part]  # along the line of centres
    _, teeth, _ = pair_errors(product, mate, moved, poses.__getitem__)
    assert teeth[1] == pytest.approx(0.1e-3, abs=1e-9)


def squeezed() -> Allowance:
    project, _ = read_project(FOLDER)
    assert project is not None
    (found,) = (a for a in lasting(project) if a.reason == "squeeze")
    return found


def test_the_ring_may_be_squeezed_by_as_much_as_it_stands_out_and_no_more(product: Product) -> None:
    # 2 mm of ring in a groove 1.5 mm deep: product.yaml.
    allowance = squeezed()
    assert (allowance.a, allowance.b, allowance.skin) == ("cover", "ring", SKIN)
    poses = {name: np.array(T) for name, T in assembled_poses(product).items()}
    home = poses["cover"]
    for height, back in ((0.0, 0.5e-3), (0.2e-3, 0.3e-3), (0.5e-3, 0.0), (3e-3, 0.0)):
        poses["cover"] = se3.translation(0.0, 0.0, height) @ home
        relief = allowance.corridor.relief(poses.__getitem__, 0.0, 0.0)
        assert relief == pytest.approx([0.0, 0.0, back], abs=1e-9), height
    for by in (se3.translation(0.0, 0.0, -0.1e-3), se3.translation(0.1e-3, 0.0, 0.0)):
        poses["cover"] = by @ home
        assert allowance.corridor.relief(poses.__getitem__, 0.0, 0.0) is None


def test_a_ring_drawn_far_too_high_is_not_squeezed_but_cut(product: Product) -> None:
    mate = product.mate("cover-on-body")
    assert squeeze_of(product, mate, "ring") == pytest.approx(0.5e-3)
    assert squeeze_of(product, mate, "body") == 0.0
    assert squeeze_of(product, product.mate("ring-in-groove"), "body") == 0.0  # as deep as the ring goes
    for depth, squeeze in ((-0.8e-3, 0.8e-3), (-0.9e-3, 0.0), (0.0, 0.0)):
        pairs = tuple(replace(p, depth=depth) if p.moving == "land" else p for p in mate.pairs)
        assert squeeze_of(product, replace(mate, pairs=pairs), "ring") == pytest.approx(squeeze)


def test_the_proof_says_that_the_ring_is_taken_as_rigid(product: Product) -> None:
    (text,) = rings_taken_as_rigid(product)
    assert "ring is taken as rigid" in text
    assert "0.50 mm" in text


def test_the_idler_goes_home_where_its_teeth_meet_the_compiled(product: Product) -> None:
    # 18 teeth, so every 20 degrees; the other gear, turned by 3, turns it by 3 the other way.
    mate = product.mate("idler-gear-in-mesh")
    poses = {name: np.array(T) for name, T in assembled_poses(product).items()}
    home = poses["idler_gear"]
    line = mate_corridor(product, mate)
    z = np.array([0.0, 0.0, 1.0])
    for drive, idler, error in (
        (0, 0, 0),
        (0, 20, 0),
        (0, 1, -1),
        (0, -1, 1),
        (3, -3, 0),
        (3, 0, -3),
        (20, 5, -5),
    ):
        rolled = assembled_poses(product)["drive_gear"] @ se3.rotation(z, np.deg2rad(drive))
        poses["drive_gear"], poses["idler_gear"] = rolled, home @ se3.rotation(z, np.deg2rad(idler))
        wanted = home_pose(product, mate, poses.__getitem__)
        turn = se3.log(se3.inverse(poses["idler_gear"]) @ wanted)
        assert turn == pytest.approx([0, 0, 0, 0, 0, np.deg2rad(error)], abs=1e-7), (drive, idler)
        assert (line.relief(poses.__getitem__, 0.0, 0.0) is not None) is (error == 0)


@pytest.mark.parametrize(("height", "inside"), [(0.0, True), (1e-3, True), (-1e-3, False)])
def test_the_ring_goes_down_into_its_groove(product: Product, height: float, inside: bool) -> None:
    poses = {name: np.array(T) for name, T in assembled_poses(product).items()}
    poses["ring"] = se3.translation(0.0, 0.0, height) @ poses["ring"]
    corridor = mate_corridor(product, product.mate("ring-in-groove"))
    assert (corridor.relief(poses.__getitem__, 0.0, 0.0) is not None) is inside


def test_a_ring_over_a_shaft_still_goes_against_its_axis(product: Product) -> None:
    mate = product.mate("ring-in-groove")
    shaft = replace(mate.pairs[0], fixed_part="drive_gear", fixed="upper")
    assert mate_corridor(product, replace(mate, pairs=(shaft,))).inward == -1.0
    assert mate_corridor(product, mate).inward == 1.0
