"""An arm that was measured from another is off as that one is, in the ledger as in the simulated cell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.uncertainty import first_fit_chart as c

from handfast.model.error_source import ErrorSource, Six
from handfast.model.project import Project
from handfast.uncertainty.error_form import covariance
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.sources import sources_of
from handfast.uncertainty.walk import walk

MM = 1e-3


def spread(project: Project, arm: str, sigma: Six, measured_from: str = "") -> np.ndarray:
    """Covariance (6, 6) of the pin, which the right hand puts in, from one arm's base; what the slack of
    places does is there in each."""
    source = ErrorSource("stands", f"arm.{arm}.base", sigma, "installation")
    arms = tuple(
        replace(a, measured_from=measured_from) if a.name == "right" else a for a in project.cell.arms
    )
    tied = replace(project, cell=replace(project.cell, arms=arms), errors=(source,))
    chart = c.chart()
    given = Given(tied, chart, sources_of(tied), c.hand_poses(chart), touches=False)
    return np.asarray(covariance(walk(given)[0].pairs[0].delta, given.sources.variances))


def response(project: Project, arm: str, freedom: int, measured_from: str = "") -> np.ndarray:
    """How the pin ends up for a base that is off by 0.1 mm in one freedom (6,), its sign unknown."""
    sigma = [0.0] * 6
    sigma[freedom] = 0.1 * MM
    slack = spread(project, arm, (0.0,) * 6)
    found = spread(project, arm, tuple(sigma), measured_from) - slack  # type: ignore[arg-type]
    values, vectors = np.linalg.eigh(found)
    assert np.abs(values[:-1]).max() < 1e-12  # of one source, one direction
    return np.asarray(np.sqrt(max(values[-1], 0.0)) * vectors[:, -1])


@pytest.mark.parametrize("freedom", [0, 1, 2])
def test_moved_aside_both_arms_are_off_alike(freedom: int) -> None:
    """The left hand gives the pin to the right one. Both roots are turned alike: one shift of both is the sum
    of the same shift of each, not of two that know nothing of each other."""
    project = c.first_fit()
    left, right = response(project, "left", freedom), response(project, "right", freedom)
    tied = response(project, "left", freedom, "left")
    sums = [left + right, left - right]
    assert min(np.linalg.norm(sign * tied - one) for one in sums for sign in (1, -1)) < 1e-9
    own = response(project, "right", freedom, "left")
    assert min(np.linalg.norm(own - right), np.linalg.norm(own + right)) < 1e-12


def test_turned_the_right_hand_swings_about_the_left_base() -> None:
    """By statics of a rigid body: 0.5 m aside and about 0.45 m ahead of the left base, along and across."""
    turn = 1e-3
    found = spread(c.first_fit(), "left", (0.0, 0.0, 0.0, 0.0, 0.0, turn), "left")
    found = found - spread(c.first_fit(), "left", (0.0,) * 6)
    swing = float(np.sqrt(np.trace(found[:2, :2])))
    arm = c.first_fit().cell.arm("left").base.position
    far = np.hypot(0.0 - arm[0], 0.45 - arm[1])
    assert abs(swing / turn - far) < 0.05
    assert np.sqrt(found[5, 5]) / turn > 0.999
