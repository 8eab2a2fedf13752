"""Mistakes that each value by itself does not show: the input as written, the finding underneath."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.files.first_fit_copy import copy_to, edit
from tests.files.slip import Slip, read_slips, the_one

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.finding import Finding

SLIPS = read_slips(Path(__file__).parent / "slips.txt")
ASSUMED = "(assumed)"  # a screw whose class nobody wrote
WARNINGS = {"implausible-mass", "may-interfere", "rate-not-drawn"}


def findings_of(project: Path) -> tuple[Finding, ...]:
    verdict = check_folder(project)
    return verdict.notes if isinstance(verdict, CheckedProject) else verdict


@pytest.mark.parametrize("slip", SLIPS, ids=lambda s: s.name)
def test_slip_is_found_with_its_place(tmp_path: Path, slip: Slip) -> None:
    project = copy_to(tmp_path)
    edit(project, slip.file, slip.old, slip.new)
    verdict = check_folder(project)
    certified = isinstance(verdict, CheckedProject)
    found = the_one(verdict.notes if isinstance(verdict, CheckedProject) else verdict, slip)
    assert found.line > 0
    assert found.column > 0
    warned = slip.rule in WARNINGS or ASSUMED in slip.expected
    assert found.severity == ("warning" if warned else "error")
    assert certified == warned


def test_a_cup_instead_of_fingers_can_be_written_and_is_refused(tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    fingers = (project / "cell.yaml").read_text()
    old = fingers[fingers.index("    finger_size:") : fingers.index("    friction: 0.3")]
    edit(project, "cell.yaml", old, "    suction: {diameter: 20 mm, force: 40 N}\n")
    told = [f for f in findings_of(project) if f.severity == "error"]
    assert {f.rule for f in told} == {"not-planned-yet"}
    assert {f.where for f in told} == {"grippers.left_gripper.suction"}  # the right one is an alias of it


def test_half_a_gripper_is_told(tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    edit(project, "cell.yaml", "    opening: [0 mm, 70 mm]\n", "")
    told = findings_of(project)
    assert any("add `opening: [0 mm, 70 mm]`" in f.fix for f in told)


def test_untouched_project_is_certified_without_notes(tmp_path: Path) -> None:
    verdict = check_folder(copy_to(tmp_path))
    assert isinstance(verdict, CheckedProject)
    assert verdict.notes == ()


def test_line_is_where_the_value_stands(tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    line = edit(project, "product.yaml", "held_until: cover-screw", "held_until: cover-screws")
    (finding,) = findings_of(project)
    written = (project / "product.yaml").read_text().splitlines()[line - 1]
    assert finding.line == line
    assert written[finding.column - 1 :] == "cover-screws"


def test_slips_of_reading_and_of_the_rules_are_told_together(tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    edit(
        project, "product.yaml", "length: 24 mm", "length: 24"
    )  # breaks the bore, so nothing about the bore is told
    edit(project, "product.yaml", "tool: driver", "tool: drivr")
    edit(project, "cell.yaml", "tip: flange", "tip: flansh")
    edit(project, "errors.yaml", "acts_on: holder.tray", "acts_on: holder.try")
    assert [(f.rule, f.where) for f in findings_of(project)] == [
        ("arm-unloadable", "arms.left.urdf"),
        ("acts-on-nothing", "sources.tray on the table.acts_on"),
        ("unit", "parts.block.features.bore.length"),
        ("unknown-name", "mates.cover-screw.tool"),
    ]


def test_reference_to_something_broken_is_no_second_mistake(tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    edit(project, "product.yaml", "mass: 16 g", "mass: 16")
    assert [f.rule for f in findings_of(project)] == ["unit"]


def test_part_that_no_mate_brings_home_is_a_warning(tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    text = (project / "product.yaml").read_text()
    (project / "product.yaml").write_text(
        text[: text.index("  cover-screw:\n")].replace("    held_until: cover-screw\n", "")
    )
    verdict = check_folder(project)
    assert isinstance(verdict, CheckedProject)
    assert [(n.rule, n.severity, n.where) for n in verdict.notes] == [
        ("never-mated", "warning", "parts.screw")
    ]


def test_given_order_that_cannot_be(tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    path = project / "product.yaml"
    text = path.read_text()
    first, second, third = (
        text.index(f"  {name}:\n") for name in ("pin-in-bore", "cover-on-block", "cover-screw")
    )
    path.write_text(text[:first] + text[second:third] + text[first:second] + text[third:])
    assert [(f.rule, f.expected) for f in findings_of(project)] == [
        ("order-given", "'pin-in-bore' before 'cover-on-block'")
    ]
    edit(project, "product.yaml", "order: given", "order: free")
    assert isinstance(check_folder(project), CheckedProject)


def test_project_without_errors_is_a_warning(tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    edit(project, "project.yaml", "errors: errors.yaml\n", "")
    verdict = check_folder(project)
    assert isinstance(verdict, CheckedProject)
    assert [n.rule for n in verdict.notes] == ["no-errors"]


@pytest.mark.parametrize("x_along", ["+y", "-x", "[1, 2, 0]"])
def test_second_pair_fixes_the_turn_whatever_the_frames_x_axis(tmp_path: Path, x_along: str) -> None:
    project = copy_to(tmp_path)
    old = "at: [-28 mm, 0 mm, 0 mm], z_along: +z"
    edit(project, "product.yaml", old, f"{old}, x_along: {x_along}")
    assert isinstance(check_folder(project), CheckedProject)
