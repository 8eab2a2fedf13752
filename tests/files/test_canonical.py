from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from tests.files.first_fit_copy import copy_to, edit

from handfast.files.project_reader import read_project
from handfast.model.project import Project

SAME = {
    "a comment": ("product.yaml", "base: block", "base: block   # the one on the nest"),
    "white space": ("product.yaml", "mass: 400 g", "mass:    400   g"),
    "quotes": ("product.yaml", "fit: H7", 'fit: "H7"'),
    "order of keys": ("product.yaml", "kind: insert\n    part: pin", "part: pin\n    kind: insert"),
    "another layout": ("product.yaml", "touch: [{face: block.end}]", "touch:\n      - face: block.end"),
    "another anchor": ("cell.yaml", "left:  &arm", "left:  &arm  # and for the other hand\n"),
}
OTHER = {
    "a number": ("product.yaml", "mass: 400 g", "mass: 401 g"),
    "a unit": ("product.yaml", "mass: 400 g", "mass: 400 kg"),
    "a word": ("product.yaml", "fit: H7", "fit: H8"),
    "a key": ("product.yaml", "order: given", "order: free"),
}


def project_at(folder: Path) -> Project:
    project, findings = read_project(folder)
    assert project is not None, findings
    return project


def hashes(folder: Path) -> dict[str, str]:
    return {i.path: i.sha256 for i in project_at(folder).inputs}


@pytest.mark.parametrize("what", SAME)
def test_layout_does_not_change_the_hash(tmp_path: Path, what: str) -> None:
    folder = copy_to(tmp_path)
    before, project = hashes(folder), project_at(folder)
    edit(folder, *SAME[what])
    assert hashes(folder) == before
    assert project_at(folder) == project


@pytest.mark.parametrize("what", OTHER)
def test_content_changes_the_hash_of_its_file_only(tmp_path: Path, what: str) -> None:
    folder = copy_to(tmp_path)
    before = hashes(folder)
    edit(folder, *OTHER[what])
    after = hashes(folder)
    assert {path for path in after if after[path] != before[path]} == {OTHER[what][0]}


def test_order_of_parts_is_no_content_but_order_of_mates_is(tmp_path: Path) -> None:
    folder = copy_to(tmp_path)
    before, project = hashes(folder), project_at(folder)
    path = folder / "product.yaml"
    text = path.read_text()
    pin, cover, screw = (text.index(f"\n  {name}:") for name in ("pin", "cover", "screw"))
    path.write_text(text[:pin] + text[cover:screw] + text[pin:cover] + text[screw:])
    assert hashes(folder) == before
    assert project_at(folder) == project
    text = path.read_text()
    first, second, third = (
        text.index(f"\n  {name}:") for name in ("pin-in-bore", "cover-on-block", "cover-screw")
    )
    path.write_text(text[:first] + text[second:third] + text[first:second] + text[third:])
    assert hashes(folder)["product.yaml"] != before["product.yaml"]


def test_meshes_and_arms_count_byte_by_byte(tmp_path: Path) -> None:
    folder = copy_to(tmp_path)
    named = {"arms/arm.urdf", *(f"meshes/{p.name}" for p in (folder / "meshes").iterdir())}
    before = hashes(folder)
    assert set(before) == named | {"project.yaml", "product.yaml", "cell.yaml", "errors.yaml"}
    # Outside the project: hashlib over the bytes, as `sha256sum` prints it.
    assert all(before[n] == hashlib.sha256((folder / n).read_bytes()).hexdigest() for n in named)


def test_folder_is_no_part_of_any_hash(tmp_path: Path) -> None:
    one, two = copy_to(tmp_path / "one"), copy_to(tmp_path / "two")
    assert hashes(one) == hashes(two)
