"""Frames turned round and frames off the part, for every feature of the example; shapes with holes."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import pytest
from tests.files.first_fit_copy import ORIGINAL, copy_to, edit

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.checking.fit_of_pair import fit_of_pair
from handfast.checking.inside_solid import inside_any, winding_number
from handfast.files.project_reader import read_project
from handfast.model.feature import Feature
from handfast.model.finding import Finding
from handfast.model.shape import Box, Cylinder, Mesh, Solid, Sphere
from handfast.spatial import se3
from handfast.spatial.pose import Pose

FEATURE = re.compile(r"^ {6}(\w+): +\{kind: \w+, at: .*?z_along: ([+-])(\w)", re.M)
WRITTEN = [
    (file, match.group(0), match.group(0)[:-2] + ("-" if match.group(2) == "+" else "+") + match.group(3))
    for file in ("product.yaml", "cell.yaml")
    for match in FEATURE.finditer((ORIGINAL / file).read_text())
]


def findings_of(project: Path) -> tuple[Finding, ...]:
    verdict = check_folder(project)
    return verdict.notes if isinstance(verdict, CheckedProject) else verdict


def test_every_feature_is_tried() -> None:
    project, _ = read_project(ORIGINAL)
    assert project is not None
    owned = [f for p in project.product.parts for f in p.features]
    owned += [f for t in project.cell.tools for f in t.features]
    assert len(WRITTEN) == len(owned) == 21


@pytest.mark.parametrize(("file", "old", "new"), WRITTEN, ids=lambda text: text.strip().partition(":")[0])
def test_frame_turned_by_180_degrees_is_found(tmp_path: Path, file: str, old: str, new: str) -> None:
    project = copy_to(tmp_path)
    line = edit(project, file, old, new)
    told = [f for f in findings_of(project) if f.rule == "feature-direction"]
    assert [(f.file, f.line, f.fix) for f in told] == [(file, line, "turn z_along round")]


@pytest.mark.parametrize(("file", "old", "new"), WRITTEN, ids=lambda text: text.strip().partition(":")[0])
def test_frame_off_the_part_is_found(tmp_path: Path, file: str, old: str, new: str) -> None:
    project = copy_to(tmp_path)
    line = edit(project, file, old, re.sub(r"at: \[[^,]*,", "at: [300 mm,", old))
    told = [f for f in findings_of(project) if f.rule == "feature-off-part"]
    assert [(f.file, f.line) for f in told] == [(file, line)]


def spoil_mesh(path: Path, keep: slice, flip: bool = False) -> None:
    data = path.read_bytes()
    records = np.frombuffer(data[84:], dtype=np.uint8).reshape(-1, 50)[keep].copy()
    if flip:
        corners = records[:, 12:48].reshape(-1, 3, 12)
        records[:, 12:48] = corners[:, ::-1].reshape(-1, 36)
    path.write_bytes(b"".join((data[:80], np.uint32(len(records)).tobytes(), records.tobytes())))


def test_mesh_with_a_missing_face_is_open(tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    spoil_mesh(project / "meshes/cover.stl", slice(1, None))
    told = [f for f in findings_of(project) if f.rule == "mesh-open"]
    assert [(f.where, f.found.split()[0]) for f in told] == [("parts.cover.solids.0.mesh", "3")]


def test_mesh_with_its_faces_turned_over_is_told(tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    spoil_mesh(project / "meshes/pin.stl", slice(None), flip=True)
    told = [f for f in findings_of(project) if f.rule == "mesh-open"]
    assert [(f.where, f.fix) for f in told] == [("parts.pin.solids.0.mesh", "turn its faces over")]


@pytest.mark.parametrize("content", [b"", b"solid nothing\nendsolid", b"\0" * 84, b"\xff" * 134])
def test_mesh_that_is_none_is_told(tmp_path: Path, content: bytes) -> None:
    project = copy_to(tmp_path)
    (project / "meshes/pin.stl").write_bytes(content)
    told = [f for f in findings_of(project) if f.severity == "error"]
    assert [(f.rule, f.where) for f in told] == [("mesh-unreadable", "parts.pin.solids.0.mesh")]


def test_points_inside_the_drawn_block_against_plain_geometry() -> None:
    # Reference: the block as its drawing says, 100 x 50 x 30 less two round holes with 45 deg mouths. Points
    # within 0.05 mm of a surface are left out: a hole is drawn as a polygon of 96 sides.
    rng = np.random.default_rng(5)
    points = rng.uniform([-55, -30, -3], [55, 30, 33], size=(4000, 3))
    points[:1500] = rng.uniform([-34, -6, 3], [-22, 6, 32], size=(1500, 3))
    box = np.all(np.abs(points - [0, 0, 15]) < [50, 25, 15], axis=1)
    close = np.min(np.abs(np.abs(points - [0, 0, 15]) - [50, 25, 15]), axis=1) < 0.05
    taken = np.zeros(len(points), dtype=bool)
    for x, radius, depth, chamfer in ((-28, 4.0, 24, 0.5), (38, 1.65, 12, 0.75)):
        r, below = np.hypot(points[:, 0] - x, points[:, 1]), 30 - points[:, 2]
        wall = radius + np.maximum(0, chamfer - below)
        taken |= (r < wall) & (below < depth)
        close |= (np.abs(r - wall) < 0.05) | (np.abs(below - depth) < 0.05)
    expected = box & ~taken
    found = inside_any(points * 1e-3, (Solid(Mesh("meshes/block.stl", 1e-3)),), str(ORIGINAL))
    assert 0.2 < expected[~close].mean() < 0.8
    np.testing.assert_array_equal(found[~close], expected[~close])


def test_points_inside_placed_primitives() -> None:
    turned = Pose.from_matrix(
        se3.translation(1, 2, 3) @ se3.fixed_xyz(0, math.pi / 2, 0)
    )  # z of the shape along x
    for shape in (Box((0.2, 0.2, 0.8)), Cylinder(0.1, 0.8)):
        found = inside_any(np.array([[1.39, 2, 3], [1, 2, 3.39], [1.41, 2, 3]]), (Solid(shape, turned),), "")
        assert found.tolist() == [True, False, False]
    found = inside_any(np.array([[1.0, 2, 3.49], [1, 2, 3.51]]), (Solid(Sphere(0.5), turned),), "")
    assert found.tolist() == [True, False]


def test_winding_number_counts_how_often_a_mesh_goes_round() -> None:
    # A tetrahedron; twice over; inside out. By definition 1, 2 and -1 within, 0 outside.
    corners = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    faces = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
    points = np.array([[0.1, 0.1, 0.1], [1.0, 1, 1]])
    np.testing.assert_allclose(winding_number(points, corners, faces), [1, 0], rtol=0, atol=1e-12)
    np.testing.assert_allclose(
        winding_number(points, corners, np.vstack([faces, faces])), [2, 0], rtol=0, atol=1e-12
    )
    np.testing.assert_allclose(winding_number(points, corners, faces[:, ::-1]), [-1, 0], rtol=0, atol=1e-12)


def test_clearance_of_a_fit() -> None:
    # ISO 286-1, 6 to 10 mm: H7 0/+15 um, g6 -5/-14 um, so clearance 5 to 29 um (looked up).
    hole = Feature("bore", "hole", Pose(), diameter=0.008, fit="H7")
    shaft = Feature("tip", "shaft", Pose(), diameter=0.008, fit="g6")
    for pair in ((hole, shaft), (shaft, hole)):
        fit = fit_of_pair(*pair)
        assert fit is not None
        assert (fit.hole, fit.shaft) == ("H7", "g6")
        assert fit.clearance_min == pytest.approx(5e-6, abs=1e-9)
        assert fit.clearance_max == pytest.approx(29e-6, abs=1e-9)
    assert fit_of_pair(hole, hole) is None
