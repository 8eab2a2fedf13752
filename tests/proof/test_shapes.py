"""Meshes as the proof reads them: files, convexity, drawing in, enclosure, and near-distance queries."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from tests.proof.chart_by_hand import FOLDER

from handfast.model.shape import Box, Cylinder, Mesh, Shape, Sphere
from handfast.proof.exact import ROUNDING, apart_by, distance
from handfast.proof.mesh import contains, drawn_in, is_convex
from handfast.proof.piece import piece_of
from handfast.proof.stl import MeshError, Triangles, alike, read_stl
from handfast.spatial import se3
from handfast.spatial.se3 import Array

MESHES = FOLDER / "meshes"


def volume(vertices: Array, triangles: Triangles) -> float:
    a, b, c = (vertices[triangles[:, i]] for i in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def test_a_block_read_from_its_file_has_its_handbook_volume() -> None:
    # 100 x 50 x 30 less the 8 mm bore 24 deep with its 0.5 chamfer and the 3.3 mm hole 12 deep with mouth.
    vertices, triangles = read_stl(MESHES / "block.stl", 1e-3)
    frustum = np.pi * 0.5 / 3 * (4.5**2 + 4.5 * 4 + 4**2) - np.pi * 4**2 * 0.5
    wide, deep = 2.4, 2.4 - 1.65
    mouth = np.pi * deep / 3 * (wide**2 + wide * 1.65 + 1.65**2) - np.pi * 1.65**2 * deep
    expected = 150e3 - np.pi * 16 * 24 - frustum - np.pi * 1.65**2 * 12 - mouth
    assert volume(vertices, triangles) * 1e9 == pytest.approx(expected, rel=2e-5)  # 96-sided holes


def test_a_text_file_is_read_like_a_binary_one(tmp_path: Path) -> None:
    vertices, triangles = read_stl(MESHES / "pin.stl", 1.0)
    lines = ["solid pin"]
    for corners in vertices[triangles]:
        lines += ["facet normal 0 0 0", "outer loop"]
        lines += [f"vertex {x:.9g} {y:.9g} {z:.9g}" for x, y, z in corners]
        lines += ["endloop", "endfacet"]
    path = tmp_path / "pin.stl"
    path.write_text("\n".join([*lines, "endsolid pin"]))
    again, same = read_stl(path, 1.0)
    assert np.allclose(again, vertices, atol=1e-9)
    assert (same == triangles).all()


def test_bad_files_are_refused_with_their_name(tmp_path: Path) -> None:
    good = (MESHES / "pin.stl").read_bytes()
    for name, data in (
        ("short", good[:-10]),
        ("empty", good[:80] + bytes(4)),
        ("torn", b"solid x\nvertex 1 2 3\n"),
    ):
        path = tmp_path / f"{name}.stl"
        path.write_bytes(data)
        with pytest.raises(MeshError, match=name):
            read_stl(path, 1e-3)


@pytest.mark.parametrize(
    ("name", "convex"), [("pin", True), ("block", False), ("cover", False), ("screw", False)]
)
def test_only_a_mesh_without_hollows_counts_as_convex(name: str, convex: bool) -> None:
    assert is_convex(*read_stl(MESHES / f"{name}.stl", 1e-3)) is convex


def test_drawn_in_a_shaft_is_thinner_and_a_hole_wider() -> None:
    depth = 0.05e-3
    vertices, triangles = read_stl(MESHES / "cover.stl", 1e-3)
    thinner = drawn_in(vertices, triangles, depth)
    assert np.ptp(thinner, axis=0) == pytest.approx(np.ptp(vertices, axis=0) - 2 * depth, abs=1e-8)
    screw_hole = np.abs(np.linalg.norm(vertices[:, :2] - [0.038, 0], axis=1) - 2.25e-3) < 5e-6
    assert screw_hole.sum() == 2 * 96
    wider = np.linalg.norm(thinner[screw_hole, :2] - [0.038, 0], axis=1)
    before = np.linalg.norm(vertices[screw_hole, :2] - [0.038, 0], axis=1)
    assert wider - before == pytest.approx(np.full(192, depth / np.cos(np.pi / 96)), abs=1e-8)
    pin, faces = read_stl(MESHES / "pin.stl", 1e-3)
    side = np.abs(np.linalg.norm(pin[:, :2], axis=1) - 4e-3) < 1e-6
    radius = np.linalg.norm(drawn_in(pin, faces, depth)[side, :2], axis=1)
    assert radius == pytest.approx(np.full(side.sum(), 4e-3 - depth / np.cos(np.pi / 96)), abs=1e-8)


def test_the_solid_angle_tells_inside_from_outside() -> None:
    vertices, triangles = read_stl(MESHES / "block.stl", 1e-3)
    for point, inside in (((0, 0, 15), True), ((-28, 0, 28), False), ((-28, 0, 3), True), ((0, 0, 31), False),
                          ((-28, 4.5, 15), True), ((38, 0, 25), False)):  # fmt: skip
        assert contains(vertices, triangles, np.array(point) / 1e3) is inside, point


@pytest.mark.parametrize("seed", range(4))
def test_closer_than_agrees_with_the_full_distance(seed: int) -> None:
    rng = np.random.default_rng(seed)
    shapes: list[Shape] = [Mesh(f"meshes/{n}.stl", 1e-3) for n in ("block", "pin", "cover", "screw")]
    shapes += [Box((0.02, 0.03, 0.01)), Cylinder(0.01, 0.04), Sphere(0.012)]
    pieces = [piece_of(shape, np.eye(4), FOLDER) for shape in shapes]
    near = 0
    for _ in range(60):
        a, b = (pieces[i] for i in rng.integers(0, len(pieces), 2))
        T = se3.exp(np.concatenate([rng.normal(0, 0.02, 3), rng.normal(0, 1, 3)]))
        full = distance(a.geometry, np.eye(4), b.geometry, T)
        near += full < 0.01
        for margin in (0.0, 0.5 * full, full - 5e-6, full + 5e-6, 2 * full + 1e-3):
            if margin >= 0 and abs(full - margin) > 2 * ROUNDING:
                assert apart_by(a.geometry, np.eye(4), b.geometry, T, margin) == (full > margin), (
                    full,
                    margin,
                )
    assert near > 10


def test_the_ball_and_the_box_of_a_piece_hold_all_of_it() -> None:
    for name in ("block", "pin", "tray"):
        piece = piece_of(Mesh(f"meshes/{name}.stl", 1e-3), se3.translation(0.1, 0, 0), FOLDER)
        assert piece.vertices is not None
        points = piece.vertices + np.array([0.1, 0, 0])
        assert np.linalg.norm(points - piece.centre, axis=1).max() <= piece.radius + 1e-12
        assert (np.abs(points - piece.centre) <= piece.half + 1e-12).all()


@pytest.mark.parametrize(("rows", "columns", "most"), [(500, 3, 3), (2000, 4, 40), (1, 3, 5), (0, 3, 5)])
def test_rows_that_are_alike_are_found_as_numpy_finds_them(rows: int, columns: int, most: int) -> None:
    given = np.random.default_rng(rows).integers(-most, most, (rows, columns))
    kinds, _, kind = np.unique(given, axis=0, return_index=True, return_inverse=True)
    first, found = alike(given)
    assert np.array_equal(given[first], kinds)
    assert np.array_equal(found, kind.reshape(-1))
