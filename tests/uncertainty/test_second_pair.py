"""The turn that a second pair sets, on the pump: a cover over two pins, blocks in lobes and on shafts."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from handfast.files.project_reader import read_project
from handfast.mates.home import assembled_poses
from handfast.model.chart import Chart
from handfast.model.scene import Attachment, Scene
from handfast.spatial.pose import Pose
from handfast.uncertainty.chain_state import Item, State
from handfast.uncertainty.error_form import Form, covariance, nothing
from handfast.uncertainty.instances import Instance
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.pair_form import pair_form
from handfast.uncertainty.second_pair import turn_set
from handfast.uncertainty.sources import sources_of

PROJECT, _ = read_project(Path(__file__).parents[2] / "projects" / "dosing-pump")
# The cover's slot is as wide as 5 F7 (+10 to +22 um, ISO 286-2) over pins 5 h6 (-8 to 0): 10 to 30 um.
MIDDLE = 20e-6


@pytest.fixture
def given() -> Given:
    assert PROJECT is not None
    chart = Chart("pump", ("left",), Scene((), ()), (), (), 0.0, 0.0)
    return Given(PROJECT, chart, sources_of(PROJECT), {})


def state_of(given: Given, part: str, twist: np.ndarray) -> State:
    """Everything at home; one part off by a twist in its own frame."""
    poses = assembled_poses(given.project.product)
    off = Form({Instance("none"): np.zeros((6, 6))}, twist, {Instance("none"): frozenset()})
    items = {n: Item(T, off if n == part else nothing()) for n, T in poses.items()}
    return State(items, {n: Attachment(n, "part.body", Pose()) for n in poses if n != "body"}, {})


@pytest.mark.parametrize(
    ("name", "second", "across"),
    [
        ("cover-on-body", 1, 1),
        ("lower-block-in-pocket", 1, 1),
        ("upper-block-on-shafts", 1, 1),
    ],
)
def test_however_it_came_in_the_second_pair_ends_in_its_play(
    given: Given, name: str, second: int, across: int
) -> None:
    mate = given.project.product.mate(name)
    state = state_of(given, mate.part, np.array([0, 0, 0, 0, 0, 3e-3]))
    pairs = [((mate.part, p.moving), (p.fixed_part, p.fixed)) for p in (mate.pairs[0], mate.pairs[second])]
    first, before = (pair_form(given, state, *p, "home") for p in pairs)
    assert abs(before.mean[across]) > 10e-6, "turned about the part's own middle, both ends are off"
    after = turn_set(given, state, mate, "home")
    first_now, second_now = (pair_form(given, after, *p, "home") for p in pairs)
    assert first_now.mean[:2] == pytest.approx(first.mean[:2], abs=1e-9), "it turns about the first axis"
    assert second_now.mean[across] == pytest.approx(0, abs=1e-9)


def test_the_play_is_uniform_over_the_clearance(given: Given) -> None:
    mate = given.project.product.mate("cover-on-body")
    after = turn_set(given, state_of(given, "cover", np.zeros(6)), mate, "home")
    pair = mate.pairs[1]
    form = pair_form(given, after, ("cover", pair.moving), (pair.fixed_part, pair.fixed), "home")
    play = {k: J for k, J in form.jacobians.items() if k.source.startswith("play of slot")}
    assert len(play) == 1
    only = Form(play, np.zeros(6), {k: frozenset() for k in play})
    # Rectangular of width c: c/sqrt(12) (GUM 4.3.7); c is 20 um, its own spread adds under a tenth.
    sigma = float(covariance(only, given.sources.variances)[1, 1]) ** 0.5
    assert sigma == pytest.approx(MIDDLE / 12**0.5, rel=0.05)


def test_a_part_without_a_second_pair_beside_the_first_keeps_its_turn(given: Given) -> None:
    mate = given.project.product.mate("drive-gear-in-block")
    state = state_of(given, "drive_gear", np.array([0, 0, 0, 0, 0, 3e-3]))
    assert turn_set(given, state, mate, "home") is state
