"""The project of a test file, its FOLDER, checked and planned once."""

from __future__ import annotations

import pytest

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.planning.plan import plan


@pytest.fixture(scope="module")
def checked(request: pytest.FixtureRequest) -> CheckedProject:
    found = check_folder(request.module.FOLDER)
    assert isinstance(found, CheckedProject), found
    assert found.notes == ()
    return found


@pytest.fixture(scope="module")
def chart(checked: CheckedProject) -> Chart:
    found = plan(checked, seed=7)
    assert isinstance(found, Chart), found
    return found
