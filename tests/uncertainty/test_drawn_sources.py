"""Slack and position tolerances: what the ledger takes in, against what the simulated cell really draws."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.uncertainty import first_fit_chart as c

from handfast.kinematics.chain import load_chain
from handfast.model.error_source import ErrorSource
from handfast.model.feature import Feature
from handfast.model.project import Project
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array
from handfast.trials.draw import Draws
from handfast.trials.true_cell import TrueCell
from handfast.uncertainty.budget import budget
from handfast.uncertainty.instances import Instance
from handfast.uncertainty.sources import sources_of

PROJECT = c.first_fit()
CHAINS = {a.name: load_chain(a, PROJECT.folder) for a in PROJECT.cell.arms}
COUNT = 3000
# A standard deviation of n draws is off by sigma/sqrt(2 n) (GUM E.4.3); five of them. Bounded draws less.
SPREAD = 5 / math.sqrt(2 * COUNT)


def cell(project: Project, build: int) -> TrueCell:
    return TrueCell(project, CHAINS, Draws(project.errors, 5, build))


def sigma(project: Project, edge: str) -> Array:
    """Standard deviations (6,) that the ledger takes in on an edge."""
    sources = sources_of(project)
    total = np.zeros(6)
    for source in sources.by_edge.get(edge, ()):
        total += sources.variances(Instance(source.name))
    return np.sqrt(total)


def toleranced(kind: str, name: str = "bore") -> tuple[Project, Feature]:
    """First-fit whose block has one more feature, with a position tolerance of 0.06 mm and no source."""
    feature = Feature(name, kind, Pose(), diameter=8e-3, position_tolerance=0.06e-3)  # type: ignore[arg-type]
    parts = tuple(
        replace(p, features=(*(f for f in p.features if f.name != name), feature)) if p.name == "block" else p
        for p in PROJECT.product.parts
    )
    errors = tuple(s for s in PROJECT.errors if s.acts_on != f"feature.block.{name}")
    return replace(PROJECT, product=replace(PROJECT.product, parts=parts), errors=errors), feature


def test_a_part_lies_in_the_trial_as_far_off_as_the_ledger_says() -> None:
    """The driver in its stand: no source acts there, so +-0.2 mm and +-0.6 deg, uniform."""
    lies = []
    for build in range(COUNT):
        T_world = cell(PROJECT, build).T_world("driver")
        lies.append(se3.log(se3.inverse(c.T_DRIVER_STAND) @ T_world))
    told = sigma(PROJECT, "place.stand.driver")
    # Rectangular distribution: half width over sqrt(3) (GUM 4.3.7).
    assert told == pytest.approx([0.2e-3 / 3**0.5, 0.2e-3 / 3**0.5, 0, 0, 0, math.radians(0.6) / 3**0.5])
    assert np.std(lies, axis=0) == pytest.approx(told, rel=SPREAD, abs=1e-12)
    assert np.abs(lies).max(axis=0)[:2] == pytest.approx(0.2e-3, rel=0.01)


def test_a_written_source_stands_instead_of_the_slack() -> None:
    written = ErrorSource("held by a spring", "place.stand.driver", (1e-5, 0, 0, 0, 0, 0), "part")
    project = replace(PROJECT, errors=(*PROJECT.errors, written))
    assert sigma(project, "place.stand.driver") == pytest.approx([1e-5, 0, 0, 0, 0, 0])
    lies = [se3.log(se3.inverse(c.T_DRIVER_STAND) @ cell(project, b).T_world("driver")) for b in range(300)]
    assert np.std(lies, axis=0) == pytest.approx([1e-5, 0, 0, 0, 0, 0], rel=0.25, abs=1e-12)


def test_slack_about_z_alone_counts_too() -> None:
    holders = tuple(
        replace(h, places=tuple(replace(p, slack=0.0) for p in h.places)) if h.name == "stand" else h
        for h in PROJECT.cell.holders
    )
    project = replace(PROJECT, cell=replace(PROJECT.cell, holders=holders))
    lies = [se3.log(se3.inverse(c.T_DRIVER_STAND) @ cell(project, b).T_world("driver")) for b in range(300)]
    told = sigma(project, "place.stand.driver")
    assert told[5] > 0.005
    assert np.std(lies, axis=0) == pytest.approx(told, rel=0.25, abs=1e-12)


def test_a_groove_leaves_slack_along_it_only() -> None:
    holders = tuple(
        replace(h, places=tuple(replace(p, groove=True) for p in h.places)) if h.name == "stand" else h
        for h in PROJECT.cell.holders
    )
    project = replace(PROJECT, cell=replace(PROJECT.cell, holders=holders))
    lies = [se3.log(se3.inverse(c.T_DRIVER_STAND) @ cell(project, b).T_world("driver")) for b in range(300)]
    told = sigma(project, "place.stand.driver")
    assert told == pytest.approx([0, 0, 0.2e-3 / 3**0.5, 0, 0, math.radians(0.6) / 3**0.5])
    assert np.std(lies, axis=0) == pytest.approx(told, rel=0.15, abs=1e-12)


@pytest.mark.parametrize(
    ("kind", "free"), [("hole", [0, 1]), ("thread", [0, 1]), ("slot", [1]), ("face", [2])]
)
def test_a_tolerance_shifts_the_feature_in_the_trial_as_the_ledger_says(kind: str, free: list[int]) -> None:
    project, feature = toleranced(kind)
    off = np.array([se3.log(cell(project, b).T_part_feature("block", feature)) for b in range(COUNT)])
    told = sigma(project, "feature.block.bore")
    # A sixth of the zone as sigma, cut at three: variance 1 - 6 phi(3)/(2 Phi(3) - 1) = 0.97334 (tables).
    expected = np.zeros(6)
    expected[free] = 0.01e-3 * math.sqrt(0.97334)
    assert told == pytest.approx(expected, rel=1e-4)
    assert off.std(axis=0) == pytest.approx(expected, rel=SPREAD, abs=1e-12)
    assert np.abs(off).max() <= 0.03e-3, "what lies outside the zone was sorted out"


def test_a_tolerance_is_drawn_once_a_lot_and_goes_into_the_row() -> None:
    features = tuple(
        replace(f, position_tolerance=0.3e-3) if f.name == "screw_hole" else f
        for f in PROJECT.product.part("cover").features
    )
    parts = tuple(replace(p, features=features) if p.name == "cover" else p for p in PROJECT.product.parts)
    project = replace(PROJECT, product=replace(PROJECT.product, parts=parts))
    chart = c.chart()
    rows = budget(project, chart, "sha", c.hand_poses(chart)).rows
    found = {k.source: k for r in rows if r.mate == "cover-screw" for k in r.contributors}
    assert found["tolerance of cover.screw_hole"].changes == "lot"
    assert found["slack of place stand.driver"].changes == "part"
    assert found["slack of place stand.driver"].share > 0.1
