"""Slips of the pen in project files: the input as the user would write it, the finding underneath."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.files.first_fit_copy import copy_to, edit, errors
from tests.files.slip import Slip, read_slips, the_one

from handfast.files.project_reader import read_project

SLIPS = read_slips(Path(__file__).parent / "slips.txt")


@pytest.mark.parametrize("slip", SLIPS, ids=lambda s: s.name)
def test_slip_is_found_where_it_was_made(tmp_path: Path, slip: Slip) -> None:
    project = copy_to(tmp_path)
    line = edit(project, slip.file, slip.old, slip.new)
    result, findings = read_project(project)
    assert result is None
    found = the_one(findings, slip)
    assert found.file == slip.file
    assert found.column > 0
    # A key that is missing is told of where the thing begins; everything else where it stands.
    assert line - 12 * (slip.rule == "missing-key") <= found.line <= line + 1


def test_untouched_project_has_no_findings(tmp_path: Path) -> None:
    result, findings = read_project(copy_to(tmp_path))
    assert result is not None
    assert findings == ()


def test_all_slips_of_all_files_are_told_at_once(tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    edit(project, "project.yaml", "clearance: 5 mm", "clearance: 5")
    edit(project, "product.yaml", "mass: 400 g", "mass: 400")
    edit(project, "product.yaml", "width: 0.8 mm", "width: 0.8")
    edit(project, "cell.yaml", "force: 90 N", "force: 90")
    edit(project, "errors.yaml", "sigma: [0.35 mm, ", "sigma: [0.35, ")
    _, findings = read_project(project)
    found = {(f.file, f.where) for f in findings}
    assert found >= {
        ("project.yaml", "clearance"),
        ("product.yaml", "parts.block.mass"),
        ("product.yaml", "parts.pin.features.top.chamfer.width"),
        ("cell.yaml", "grippers.left_gripper.force"),
        ("errors.yaml", "sources.nest put on the table.sigma.0"),
    }


def test_column_points_at_the_value(tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    edit(project, "product.yaml", "  pin:     ", "  pin:  #  ")
    edit(project, "product.yaml", "    mass: 16 g", "    mass:    16")
    (finding,) = read_project(project)[1]
    written = (project / "product.yaml").read_text().splitlines()[finding.line - 1]
    assert written[finding.column - 1 :] == "16"


def test_value_under_an_anchor_is_told_of_once_where_it_stands(tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    line = edit(project, "cell.yaml", "force: 90 N", "force: 90")
    (finding,) = read_project(project)[1]
    assert (finding.line, finding.where) == (line, "grippers.left_gripper.force")


@pytest.mark.parametrize("file", ["project.yaml", "product.yaml", "cell.yaml", "errors.yaml"])
def test_bytes_that_are_not_utf8_are_told_with_line_and_column(tmp_path: Path, file: str) -> None:
    project = copy_to(tmp_path)
    data = (project / file).read_bytes()
    second = data.index(b"\n") + 1
    (project / file).write_bytes(data[: second + 2] + b"\xff" + data[second + 2 :])
    finding = errors(read_project(project)[1])[0]
    assert (finding.rule, finding.file, finding.line, finding.column) == ("not-utf-8", file, 2, 3)
    assert "0xff" in finding.found


NO_PROJECT = [
    ("", "yaml"),
    ("# nothing", "yaml"),
    ("- a\n- b", "wrong-value"),
    ("a\0b: c", "yaml"),
    ("a: b\n---\nc: d", "yaml"),
    (f"a: {'[' * 100}{']' * 100}", "too-deep"),
]


@pytest.mark.parametrize(("text", "rule"), NO_PROJECT)
def test_files_that_are_no_project(tmp_path: Path, text: str, rule: str) -> None:
    (tmp_path / "project.yaml").write_text(text)
    result, findings = read_project(tmp_path)
    assert result is None
    assert [f.rule for f in findings] == [rule]


def test_folder_without_a_project(tmp_path: Path) -> None:
    result, findings = read_project(tmp_path / "nowhere")
    assert result is None
    assert [(f.rule, f.file) for f in findings] == [("file-missing", "project.yaml")]


def test_exploding_anchors_are_refused(tmp_path: Path) -> None:
    # Ten lists, each ten times the one before: 10^10 values if unfolded.
    lines = ["l0: &l0 [1 mm, 1 mm]"] + [
        f"l{i}: &l{i} [{', '.join([f'*l{i - 1}'] * 10)}]" for i in range(1, 11)
    ]
    (tmp_path / "project.yaml").write_text("\n".join(lines))
    _, findings = read_project(tmp_path)
    assert [f.rule for f in findings] == ["exploding-anchors"]


def test_anchor_inside_itself_is_refused(tmp_path: Path) -> None:
    (tmp_path / "project.yaml").write_text("project: &me\n  again: *me\n")
    _, findings = read_project(tmp_path)
    assert [(f.rule, f.line) for f in findings] == [("exploding-anchors", 1)]


def test_link_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    (tmp_path / "outside.stl").write_bytes((project / "meshes/pin.stl").read_bytes())
    (project / "meshes/pin.stl").unlink()
    (project / "meshes/pin.stl").symlink_to(tmp_path / "outside.stl")
    assert [f.rule for f in errors(read_project(project)[1])] == ["path-leaves-folder"]


def test_unknown_sigma_is_assumed_and_said(tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    line = edit(
        project,
        "errors.yaml",
        "sigma: [0.35 mm, 0.04 mm, 0.02 mm, 0.01 deg, 0.01 deg, 0.02 deg]",
        "sigma: unknown",
    )
    result, findings = read_project(project)
    assert result is not None
    assert [(f.rule, f.severity, f.line) for f in findings] == [("assumed-error", "assumption", line)]
    source = next(s for s in result.errors if s.acts_on == "holder.nest")
    assert source.assumed
    assert source.sigma[0] > 0
