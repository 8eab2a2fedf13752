"""The example project, its workspace and its plan, made once."""

from __future__ import annotations

from pathlib import Path

import pytest

from handfast.checking.check import check, check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.project import Project
from handfast.planning import plan
from handfast.planning.workspace import Workspace, make_workspace

FIRST_FIT = Path(__file__).parents[2] / "projects" / "first-fit"
SEED = 7


def certified(project: Project) -> CheckedProject:
    """The project, which must keep every rule."""
    checked = check(project)
    assert isinstance(checked, CheckedProject), checked
    return checked


@pytest.fixture(scope="session")
def first_fit() -> CheckedProject:
    checked = check_folder(FIRST_FIT)
    assert isinstance(checked, CheckedProject), checked
    return checked


@pytest.fixture(scope="session")
def workspace(first_fit: CheckedProject) -> Workspace:
    return make_workspace(first_fit.project)


@pytest.fixture(scope="session")
def chart(first_fit: CheckedProject) -> Chart:
    found = plan(first_fit, seed=SEED)
    assert isinstance(found, Chart), found
    return found
