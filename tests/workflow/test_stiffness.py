"""A stiffness written, left to be assumed, and changed by what-if."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from tests.files.first_fit_copy import copy_to

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.error_source import ErrorSource
from handfast.workflow.changed_errors import WhatIfError, changed_project

SOFT = "\n  right fingers give:\n    acts_on: gripper.right_gripper.fingers\n    changes: installation\n"


def source(folder: Path, how: str) -> tuple[CheckedProject, ErrorSource]:
    project = copy_to(folder)
    with (project / "errors.yaml").open("a") as file:
        file.write(SOFT + f"    {how}\n")
    checked = check_folder(project)
    assert isinstance(checked, CheckedProject), checked
    return checked, next(s for s in checked.project.errors if s.name == "right fingers give")


def test_a_stiffness_is_read_as_a_compliance_and_how_uncertain_it_is(tmp_path: Path) -> None:
    written = "stiffness: [250 N/mm, 500 N/mm, 1000 N/mm, 100 N m/rad, 200 N m/rad, 400 N m/rad]"
    checked, found = source(tmp_path, f"{written}\n    uncertain: 0.1")
    assert found.compliance == pytest.approx((4e-6, 2e-6, 1e-6, 1e-2, 5e-3, 2.5e-3))
    assert found.sigma == pytest.approx(tuple(0.1 * c for c in found.compliance))
    assert not found.assumed
    stiffer = changed_project(checked.project, "right fingers give.stiffness=500 N/mm")
    changed = next(s for s in stiffer.errors if s.name == found.name)
    assert changed.compliance == pytest.approx((2e-6, 2e-6, 2e-6, 1e-2, 5e-3, 2.5e-3))
    assert changed.sigma[:3] == pytest.approx((2e-7,) * 3)
    assert changed.sigma[3:] == found.sigma[3:]


def test_an_unknown_stiffness_is_assumed_and_said_to_be(tmp_path: Path) -> None:
    checked, found = source(tmp_path, "stiffness: unknown")
    assert found.assumed
    told = [f for f in checked.notes if f.rule == "assumed-error" and "stiffness" in f.expected]
    assert [f.found for f in told] == [
        "none; [300 N/mm, 300 N/mm, 300 N/mm, 150 N m/rad, 150 N m/rad, 150 N m/rad] is assumed"
    ]


def test_what_gives_takes_a_stiffness_and_nothing_else_does(tmp_path: Path) -> None:
    project = source(tmp_path, "stiffness: unknown")[0].project
    with pytest.raises(
        WhatIfError, match=r"gives under load: expected right fingers give\.stiffness=400 N/mm"
    ):
        changed_project(project, "right fingers give.x=0.1 mm")
    with pytest.raises(
        WhatIfError, match=r"found none; there is: gripper\.right_gripper\.fingers, right fingers"
    ):
        changed_project(project, "right jaws.stiffness=400 N/mm")
    with pytest.raises(WhatIfError, match="more than zero"):
        changed_project(project, "right fingers give.stiffness=0 N/mm")
    rigid = replace(project, errors=tuple(s for s in project.errors if not s.gives))
    with pytest.raises(WhatIfError, match="none in this project"):
        changed_project(rigid, "arm.left.flange.stiffness=400 N/mm")
