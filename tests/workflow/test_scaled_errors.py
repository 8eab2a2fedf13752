"""Errors made larger: the same for ledger and trials, and what is said of mates that seldom fail."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from handfast.files.project_reader import read_project
from handfast.kinematics.chain import load_chain
from handfast.model.ledger import Band
from handfast.trials.draw import Draws
from handfast.trials.true_cell import TrueCell
from handfast.workflow.rare_failures import RareFailure
from handfast.workflow.scaled_errors import scaled

PROJECTS = Path(__file__).parents[2] / "projects"


@pytest.mark.parametrize("name", ["first-fit", "dosing-pump"])
def test_a_scaled_project_draws_what_scaled_draws_draw(name: str) -> None:
    """Every part where it lies, every feature on its part."""
    project, findings = read_project(PROJECTS / name)
    assert project is not None, findings
    chains = {a.name: load_chain(a, project.folder) for a in project.cell.arms}
    larger = scaled(project, 2.5)
    for build in range(3):
        one = TrueCell(project, chains, Draws(project.errors, 7, build, scale=2.5))
        other = TrueCell(larger, chains, Draws(larger.errors, 7, build))
        plain = TrueCell(project, chains, Draws(project.errors, 7, build))
        for item in one.items:
            assert one.T_world(item) == pytest.approx(other.T_world(item), abs=1e-12)
            assert np.abs(one.T_world(item) - plain.T_world(item)).max() > 1e-6
        for part in project.product.parts:
            for feature in part.features:
                a, b = (c.T_part_feature(part.name, c.project.product.part(part.name).feature(feature.name))
                        for c in (one, other))  # fmt: skip
                assert a == pytest.approx(b, abs=1e-12)
                assert one.draws.acts(f"feature.{part.name}.{feature.name}") == other.draws.acts(
                    f"feature.{part.name}.{feature.name}"
                )


@pytest.mark.parametrize(
    ("failed", "low", "high", "agrees"),
    [(20, 0.11, 0.12, True), (20, 0.39, 0.41, True), (20, 0.41, 0.5, False), (20, 0.05, 0.09, False),
     (20, 0.01, 0.6, True)],
)  # fmt: skip
def test_a_factor_of_two(failed: int, low: float, high: float, agrees: bool) -> None:
    assert RareFailure("m", 2.0, 100, failed, Band(low, high)).agrees == agrees


def test_a_mate_that_never_failed_often_enough_is_not_shown() -> None:
    assert not RareFailure("m", 0.0, 0, 0, Band(0.0, 1.0)).agrees
