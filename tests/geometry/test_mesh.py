"""Meshes from files, against the importer that the collision library brings (assimp) and against numbers by
hand."""

from __future__ import annotations

from pathlib import Path

import coal
import numpy as np
import pytest

from handfast.geometry.mesh import MeshError, is_closed, read_mesh, surface_points
from handfast.model.shape import Box, Cylinder, Mesh, Solid, Sphere
from handfast.spatial.pose import Pose

from .shapes import CUBE, MESHES, QUADS, TRIANGLES, Array, ascii_stl, binary_stl, drawn_solids, surface

CORNERS = CUBE[TRIANGLES]


def sorted_triangles(corners: Array) -> Array:
    """Triangles (m, 9) in an order of their own, each begun at its least corner, so that two readings can be
    compared."""
    turned = [min(tuple(np.roll(t, -i, axis=0).ravel().tolist()) for i in range(3)) for t in corners]
    return np.array(sorted(turned))


def by_assimp(path: Path, scale: float) -> Array:
    model = coal.MeshLoader().load(str(path), np.full(3, scale))
    rows = [model.tri_indices(i) for i in range(model.num_tris)]
    vertices: Array = np.asarray(model.vertices())
    return np.stack([vertices[[t[0], t[1], t[2]]] for t in rows])


@pytest.mark.parametrize("path", MESHES, ids=lambda p: p.stem)
def test_the_examples_meshes_are_read_as_another_importer_reads_them(path: Path) -> None:
    vertices, triangles = read_mesh(path, 1e-3)
    np.testing.assert_allclose(
        sorted_triangles(vertices[triangles]), sorted_triangles(by_assimp(path, 1e-3)), atol=1e-9
    )
    assert is_closed(triangles)


def obj(face: str = "{}") -> str:
    lines = ["# a cube", *(f"v {x} {y} {z}" for x, y, z in CUBE)]
    return "\n".join([*lines, *("f " + " ".join(face.format(c + 1) for c in quad) for quad in QUADS)])


WRITTEN = {
    "ascii.stl": ascii_stl(CORNERS).encode(),
    "binary.stl": binary_stl(CORNERS),
    "binary that begins like ascii.stl": binary_stl(CORNERS, b"solid cube"),
    "SHOUTED.STL": binary_stl(CORNERS),
    "plain.obj": obj().encode(),
    "texture and normal.obj": obj("{}/1/1").encode(),
    "normal.obj": obj("{}//1").encode(),
}


@pytest.mark.parametrize("name", WRITTEN)
def test_a_cube_however_it_is_written(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(WRITTEN[name])
    vertices, triangles = read_mesh(tmp_path / name, 0.5)
    assert len(vertices) == 8
    np.testing.assert_allclose(sorted_triangles(vertices[triangles]), sorted_triangles(CORNERS * 0.5))
    a, b, c = (vertices[triangles[:, i]] for i in range(3))
    assert np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6 == pytest.approx(
        1.0
    )  # outward: 1 m x 1 m x 1 m
    assert is_closed(triangles)


def test_obj_corners_counted_from_the_end(tmp_path: Path) -> None:
    lines = [f"v {x} {y} {z}" for x, y, z in CUBE] + ["f " + " ".join(str(c - 8) for c in q) for q in QUADS]
    (tmp_path / "a.obj").write_text("\n".join(lines))
    vertices, triangles = read_mesh(tmp_path / "a.obj")
    np.testing.assert_allclose(sorted_triangles(vertices[triangles]), sorted_triangles(CORNERS))


def test_obj_corners_that_stand_at_the_same_place_are_joined_and_idle_ones_left_out(tmp_path: Path) -> None:
    lines = [f"v {x} {y} {z}" for x, y, z in CORNERS.reshape(-1, 3)] + ["v 9 9 9"]
    lines += [f"f {3 * i + 1} {3 * i + 2} {3 * i + 3}" for i in range(len(CORNERS))]
    (tmp_path / "a.obj").write_text("\n".join(lines))
    vertices, triangles = read_mesh(tmp_path / "a.obj")
    assert len(vertices) == 8
    assert is_closed(triangles)


def test_an_edited_mesh_is_read_again(tmp_path: Path) -> None:
    path = tmp_path / "a.stl"
    path.write_bytes(binary_stl(CORNERS))
    assert len(read_mesh(path)[1]) == 12
    path.write_bytes(binary_stl(CORNERS[:4]))
    assert len(read_mesh(path)[1]) == 4


BAD = [
    ("a.dae", b"", "expected a mesh ending in .stl, .obj, .ply, .glb or .3mf, found .dae"),
    ("a", b"", "expected a mesh ending in .stl, .obj, .ply, .glb or .3mf, found no ending"),
    ("a.stl", b"", "at least one triangle, found 0 bytes"),
    ("a.stl", b"\x00" * 84, "at least one triangle, found 84 bytes"),
    ("a.stl", binary_stl(CORNERS)[:-1], "at least one triangle"),
    ("a.stl", binary_stl(np.where(CORNERS == 2, np.nan, CORNERS)), "expected finite coordinates, found NaN"),
    ("a.stl", b"solid empty\nendsolid", "at least one triangle"),
    (
        "a.stl",
        ascii_stl(CORNERS).replace("vertex 0.0", "vertex x", 1).encode(),
        "three numbers after each 'vertex'",
    ),
    (
        "a.stl",
        ascii_stl(CORNERS).replace("vertex 0.0", "vertex nan", 1).encode(),
        "expected finite coordinates",
    ),
    ("a.stl", ascii_stl(CORNERS).replace("vertex", "corner", 1).encode(), "at least one triangle"),
    ("a.obj", b"v 0 0 0\nv 1 0 0", "at least one triangle"),
    ("a.obj", b"v 0 0 0\nv 1 0", "line 2: expected a vertex or a face, found 'v 1 0'"),
    ("a.obj", b"v 0 0 x", "line 1: expected a vertex or a face"),
    ("a.obj", obj().encode() + b"\nf 1 2", "line 16: expected a vertex or a face, found 'f 1 2'"),
    ("a.obj", obj().encode() + b"\nf 0 1 2", "line 16: expected a vertex or a face, found 'f 0 1 2'"),
    ("a.obj", obj().encode() + b"\nf -9 1 2", "line 16: expected a vertex or a face"),
    ("a.obj", obj().encode() + b"\nf 1 2 9", "between its vertices"),
    ("a.obj", obj().replace("v 0.0", "v nan", 1).encode(), "expected finite coordinates"),
]


@pytest.mark.parametrize(("name", "data", "message"), BAD)
def test_a_mesh_that_cannot_be_read_is_refused_in_words(
    name: str, data: bytes, message: str, tmp_path: Path
) -> None:
    (tmp_path / name).write_bytes(data)
    with pytest.raises(MeshError) as refused:
        read_mesh(tmp_path / name)
    assert str(tmp_path / name) in str(refused.value)
    assert message in str(refused.value)


def test_a_missing_mesh_is_named(tmp_path: Path) -> None:
    with pytest.raises(MeshError, match=r"none\.stl: expected a mesh, cannot be read: No such file"):
        read_mesh(tmp_path / "none.stl")


@pytest.mark.parametrize(
    "triangles",
    [TRIANGLES[1:], np.vstack([TRIANGLES[1:], TRIANGLES[:1, ::-1]]), np.vstack([TRIANGLES, TRIANGLES[:1]])],
    ids=["one missing", "one turned over", "one twice"],
)
def test_a_surface_with_a_fault_is_not_closed(triangles: np.ndarray) -> None:
    assert is_closed(TRIANGLES)
    assert not is_closed(triangles)


def test_surface_points_reach_as_far_as_the_solid_in_every_direction() -> None:
    rng = np.random.default_rng(0)
    ways = rng.normal(size=(200, 3))
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    for solid in drawn_solids(rng):
        farthest = (surface_points((solid,), "/") @ ways.T).max(axis=0)
        dense = (surface(solid, rng) @ ways.T).max(axis=0)
        size = np.ptp(surface(solid, rng), axis=0).max()
        # Inscribed polygons of 64 sides fall short by at most r (1 - cos(pi / 64)) = 0.0012 r.
        assert (farthest > dense - 0.0013 * size).all()
        assert (farthest < dense + 0.06 * size).all()  # and random points do not quite reach corners


def test_surface_points_of_a_box_a_cylinder_and_a_ball() -> None:
    pose = Pose((1.0, 0.0, 0.0))
    corners = surface_points((Solid(Box((2.0, 4.0, 6.0)), pose),), "/")
    assert {tuple(c) for c in corners.tolist()} == {
        (x, y, z) for x in (0, 2) for y in (-2, 2) for z in (-3, 3)
    }
    rims = surface_points((Solid(Cylinder(0.5, 2.0)),), "/")
    np.testing.assert_allclose(np.hypot(rims[:, 0], rims[:, 1]), 0.5)
    np.testing.assert_allclose(np.abs(rims[:, 2]), 1.0)
    ball = surface_points((Solid(Sphere(0.5), pose),), "/")
    np.testing.assert_allclose(np.linalg.norm(ball - [1, 0, 0], axis=1), 0.5)


def test_mesh_paths_are_relative_to_the_project(tmp_path: Path) -> None:
    (tmp_path / "a.stl").write_bytes(binary_stl(CORNERS))
    points = surface_points((Solid(Mesh("a.stl", 2.0)),), str(tmp_path))
    assert {tuple(p) for p in points.tolist()} == {tuple(p) for p in (CUBE * 2).tolist()}
