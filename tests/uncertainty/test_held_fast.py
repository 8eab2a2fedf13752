"""A place that holds its part against the closing jaws: statics by hand, the spread in the hand, and the
simulated cell, which decides for itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.trials.bench_chart import bench_project, source
from tests.trials.test_simulated_cell import at_the_pin, closed, eta
from tests.uncertainty import first_fit_chart as c

from handfast.model.error_source import ErrorSource
from handfast.model.project import Project
from handfast.uncertainty.closing import Closing
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.outcomes import jaws
from handfast.uncertainty.sources import sources_of
from handfast.uncertainty.walk import walk

FINGERS = ErrorSource(
    "fingers", "gripper.left_gripper.fingers", (0.0,) * 6, "installation", compliance=(5e-6,) * 3 + (0.0,) * 3
)


def holding(project: Project, place: str, force: float) -> Project:
    """The project with one place of the tray holding what lies there."""
    holders = tuple(
        replace(h, places=tuple(replace(p, holding=force) if p.name == place else p for p in h.places))
        for h in project.cell.holders
    )
    return replace(project, cell=replace(project.cell, holders=holders))


def cover_taken(project: Project) -> tuple[Closing, dict[str, float]]:
    """How the left jaws close on the cover in the tray, and what is said of it."""
    chart = c.chart()
    entry = walk(Given(project, chart, sources_of(project), c.hand_poses(chart)))[1]
    (found,) = entry.closings
    return found, {o.name: o.probability for o in jaws(entry)[0].outcomes}


def test_what_slides_and_what_does_not_is_a_matter_of_forces() -> None:
    """The jaws close with their force F; the place holds with H, friction under the weight with mu m g
    (Coulomb): it slides while H + mu m g < F. Held fast, the spread in the hand is that before the jaws
    closed, and fingers of 200 N/mm bend by one sigma of it.
    """
    project = replace(c.first_fit(), errors=(*c.first_fit().errors, FINGERS))
    force = project.cell.gripper_of("left").force
    cover = project.product.part("cover")
    edge = force - cover.friction * cover.mass * 9.80665
    slides, said = cover_taken(holding(project, "cover", edge - 0.01))
    assert slides.bends is None
    assert "slide" in said
    assert slides.after[1][1] < 0.1 * slides.before[1][1], "across the pads only the jaws' own error is left"
    held, said = cover_taken(holding(project, "cover", edge + 0.01))
    assert held.bends is not None
    assert "slide" not in said
    np.testing.assert_allclose(held.after, held.before, rtol=1e-9)
    sigma = (held.before[1][1]) ** 0.5
    assert held.bends == pytest.approx(
        sigma / 5e-6, rel=0.1
    )  # of a point on the cover, not where the pads close
    (name,) = [n for n in said if n.startswith("held fast")]
    assert said[name] > 0.9


def test_a_part_held_fast_stays_where_it_is_in_the_simulated_cell() -> None:
    project = bench_project(
        source("place.tray.pin", 4e-4, 3e-4, 2e-4, 3e-3, 4e-3, 5e-3),
        source("grasp.right_gripper.free", 1e-4, 1e-4, 1e-4, 1e-4, 1e-4, 1e-4),
    )
    for extra, stays in ((-1.0, False), (1.0, True)):
        cell = at_the_pin(holding(project, "pin", project.cell.gripper_of("right").force + extra))
        before, where = eta(cell), cell.T_world("pin")
        closed(cell)
        moved = bool(np.abs(cell.T_world("pin") - where).max() > 1e-6)
        assert moved is not stays
        assert np.allclose(eta(cell), before, atol=1e-12) is stays
