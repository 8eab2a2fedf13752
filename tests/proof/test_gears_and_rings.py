"""Pairs that are not coaxial, and parts that are squeezed: the pump's gears and its ring."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from handfast.files.project_reader import read_project
from handfast.mates.home import assembled_poses
from handfast.model.product import Product
from handfast.proof.allowances import lasting
from handfast.proof.home import pair_errors
from handfast.proof.mate_corridor import mate_corridor
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


def test_the_ring_may_be_squeezed_by_as_much_as_it_stands_out_and_no_more(product: Product) -> None:
    project, _ = read_project(FOLDER)
    assert project is not None
    of_cover = {a.b: a.skin for a in lasting(project) if a.a == "cover" and a.reason == "mate"}
    assert of_cover["ring"] == pytest.approx(SKIN + 0.5e-3)
    assert of_cover["drive_gear"] == pytest.approx(SKIN)
    of_ring = {a.b: a.skin for a in lasting(project) if a.a == "ring" and a.reason == "mate"}
    assert of_ring["body"] == pytest.approx(SKIN)  # the groove is as deep as the ring goes


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
