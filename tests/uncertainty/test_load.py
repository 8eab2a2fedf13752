"""What gives under load: against a beam in a handbook, against loads worked out by hand, and beside the
simulated cell, which works it out for itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.uncertainty import first_fit_chart as c

from handfast.model.error_source import ErrorSource, Six
from handfast.model.project import Project
from handfast.spatial import se3
from handfast.trials.draw import Draws as DrawnErrors
from handfast.trials.giving import Pull, gives
from handfast.uncertainty.error_form import covariance
from handfast.uncertainty.instances import Draws
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.load import given_way, pressing
from handfast.uncertainty.sources import sources_of
from handfast.uncertainty.walk import walk

Array = NDArray[np.float64]
NONE: Six = (0.0,) * 6
RIGHT = "arm.right.flange"


def giving(acts_on: str, compliance: Six, share: float = 0.0) -> ErrorSource:
    x, y, z, a, b, g = (share * v for v in compliance)
    return ErrorSource("gives", acts_on, (x, y, z, a, b, g), "installation", compliance=compliance)


def test_a_finger_bends_as_a_cantilever_does() -> None:
    """F l^3/3EI at the end and F l^2/2EI of slope there (Euler and Bernoulli's beam; in every handbook of
    mechanics, here from memory). A beam's compliance is diagonal halfway along it: l^3/12EI and l/EI.

    Steel, 210 GPa, 20 mm wide, 8 mm thick, 60 mm long, 10 N: I = 20 x 8^3/12 = 853.3 mm4, so 4.018 um and
    0.1004 mrad.
    """
    E, inertia, length, force = 210e9, 0.02 * 0.008**3 / 12, 0.06, 10.0
    shift, turn = length**3 / (12 * E * inertia), length / (E * inertia)
    finger = giving("gripper.right_gripper.fingers", (shift, 0.0, 0.0, 0.0, turn, 0.0))
    T_world_middle = se3.translation(0.2, 0.1, 0.3) @ se3.rotation(np.array([0.0, 0.0, 1.0]), 0.7)
    T_middle_tip = se3.translation(0.0, 0.0, length / 2)
    tip = T_world_middle @ T_middle_tip
    load = pressing(tip[:3, 3], force * tip[:3, 0])
    at_tip = (
        se3.adjoint(se3.inverse(T_middle_tip)) @ given_way([finger], Draws(), T_world_middle, load, "").mean
    )
    assert at_tip[0] == pytest.approx(force * length**3 / (3 * E * inertia), rel=1e-9)
    assert at_tip[4] == pytest.approx(force * length**2 / (2 * E * inertia), rel=1e-9)
    assert at_tip[0] == pytest.approx(4.018e-6, rel=1e-3)
    assert at_tip[4] == pytest.approx(1.0045e-4, rel=1e-3)
    assert np.abs(at_tip[[1, 2, 3, 5]]).max() < 1e-15


def means(project: Project) -> tuple[dict[str, Array], float]:
    """Of each mate's first pair as it comes in, and of the touch's reading."""
    chart = c.chart()
    entries = walk(Given(project, chart, sources_of(project), c.hand_poses(chart), touches=False))
    read = walk(Given(project, chart, sources_of(project), c.hand_poses(chart)))
    return {e.mate.name: e.raw.mean for e in entries}, float(read[0].readings[0].form.mean[0])


def test_a_hand_hangs_by_the_weight_it_carries_and_is_pressed_back_where_it_touches() -> None:
    """2 um/N in every direction and no turning: the pin's own weight at its mate, that of driver and screw at
    the screw's; the touch's 2 N push the part back by 4 um along the way, which the arm goes further."""
    project = c.first_fit()
    soft = replace(project, errors=(*project.errors, giving(RIGHT, (2e-6, 2e-6, 2e-6, 0.0, 0.0, 0.0))))
    (hard_means, hard_read), (soft_means, soft_read) = means(project), means(soft)
    masses = {p.name: p.mass for p in project.product.parts}
    driver = project.cell.tool("driver").mass
    block = project.product.part("block")
    for name, hole, kg in (
        ("pin-in-bore", "bore", masses["pin"]),
        ("cover-screw", "tapped", driver + masses["screw"]),
    ):
        down = (c.T_BLOCK @ block.feature(hole).frame.matrix)[:3, :3].T @ np.array(
            [0.0, 0.0, -2e-6 * 9.80665 * kg]
        )
        hangs = soft_means[name] - hard_means[name]
        assert np.abs(hangs[:3] - down).max() < 1e-9, name
        assert np.abs(down).max() > 1e-8, name
    # The left hand does not give; but the pin, under the cover, stands as deep as the right hand left it.
    cover = soft_means["cover-on-block"] - hard_means["cover-on-block"]
    assert np.abs(cover[[0, 1, 3, 4, 5]]).max() < 1e-12
    assert cover[2] == pytest.approx(2e-6 * 9.80665 * masses["pin"], rel=1e-6)
    touch = c.TOUCH
    outward = (c.T_BLOCK @ block.feature("end").frame.matrix)[:3, 2]
    weight_along = float(outward @ np.array([0, 0, -2e-6 * 9.80665 * masses["pin"]]))
    assert soft_read - hard_read == pytest.approx(2e-6 * touch.force + weight_along, rel=1e-6)


def test_how_uncertain_the_stiffness_is_spreads_what_hangs() -> None:
    sources = sources_of(replace(c.first_fit(), errors=(giving(RIGHT, (2e-6,) * 3 + (1e-4,) * 3, 0.3),)))
    load = pressing(np.array([0.1, 0.2, 0.3]), np.array([1.0, -4.0, 2.0]))
    form = given_way(sources.by_edge[RIGHT], sources.draws, np.eye(4), load, "here")
    sigma = np.sqrt(np.diag(covariance(form, sources.variances)))
    np.testing.assert_allclose(sigma, 0.3 * np.abs(form.mean), rtol=1e-12)
    assert (sigma > 0).all()


@pytest.mark.parametrize("seed", range(3))
def test_ledger_and_simulated_cell_say_the_same_of_a_load(seed: int) -> None:
    """Two weights and a push on a turned frame; the two share no line of code."""
    rng = np.random.default_rng(seed)
    x, y, z, a, b, g = rng.uniform(1, 9, 6) * np.array([1e-6, 1e-6, 1e-6, 1e-5, 1e-5, 1e-5])
    source = giving(RIGHT, (x, y, z, a, b, g))
    frame = se3.exp(rng.normal(size=6))
    pulls = [Pull(rng.normal(size=3) * 5, rng.normal(size=3)) for _ in range(3)]
    load = sum((pressing(p.point, p.force) for p in pulls), np.zeros(6))
    told = given_way([source], Draws(), frame, load, "").mean
    np.testing.assert_allclose(
        se3.log(gives(DrawnErrors((source,), 1, 0), RIGHT, frame, pulls)), told, rtol=1e-9
    )
    assert np.abs(told).min() > 1e-8
