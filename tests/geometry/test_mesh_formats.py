"""PLY, GLB and 3MF: against the coordinates they were written with, and against the importer of the collision
library (assimp), by which the proof reads them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from tests.files.first_fit_copy import copy_to, edit, errors

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.geometry.mesh import MeshError, declared_unit, is_closed, read_mesh
from handfast.proof.mesh_file import read_mesh_file
from handfast.spatial import se3

from .written_meshes import Array, glb, ply_binary, ply_text, three_mf, wedge

TURN = se3.translation(7, -3, 2) @ se3.fixed_xyz(0.3, -0.8, 1.1)
W, X, Y, Z = (float(v) for v in se3.quaternion(TURN[:3, :3]))
MOVED: dict[str, object] = {"translation": [7, -3, 2], "rotation": [X, Y, Z, W]}
ROWS = " ".join(f"{v:.17g}" for v in [*TURN[:3, :3].T.ravel(), 7, -3, 2])
TWICE = (
    '<object id="2" type="model"><components><component objectid="1"/>'
    '<component objectid="1" transform="1 0 0 0 1 0 0 0 1 100 0 0"/></components></object>'
)
FILES = {
    "text.ply": (ply_text(*wedge()), np.eye(4), 1),
    "little.ply": (ply_binary(*wedge(), "<"), np.eye(4), 1),
    "big.ply": (ply_binary(*wedge(), ">"), np.eye(4), 1),
    "plain.glb": (glb(*wedge(), [{"mesh": 0}]), np.eye(4), 1),
    "moved.glb": (glb(*wedge(), [{"children": [1]}, {"mesh": 0, **MOVED}]), TURN, 1),
    "matrix.glb": (glb(*wedge(), [{"mesh": 0, "matrix": TURN.T.ravel().tolist()}]), TURN, 1),
    "plain.3mf": (three_mf(*wedge()), np.eye(4), 1),
    "moved.3mf": (three_mf(*wedge(), build=f'<item objectid="1" transform="{ROWS}"/>'), TURN, 1),
    "twice.3mf": (three_mf(*wedge(), build='<item objectid="2"/>', more=TWICE), np.eye(4), 2),
}


@pytest.mark.parametrize("name", FILES)
def test_what_was_written_is_read_by_planner_and_proof(name: str, tmp_path: Path) -> None:
    data, T, copies = FILES[name]
    (tmp_path / name).write_bytes(data)
    vertices, faces = wedge()
    one = (vertices[faces] @ T[:3, :3].T + T[:3, 3]) * 1e-3
    expected = np.concatenate([one + np.array([0.1 * i, 0, 0]) for i in range(copies)])
    for points, triangles in (read_mesh(tmp_path / name, 1e-3), read_mesh_file(tmp_path / name, 1e-3)):
        assert is_closed(triangles)
        assert len(points) == 4 * copies
        np.testing.assert_allclose(in_order(points[triangles]), in_order(expected), atol=5e-9)


def in_order(corners: Array) -> Array:
    """Triangles begun at their least corner, the way round kept, and sorted."""
    rounded = np.round(corners, 7)
    start = [tuple_order(t)[0] for t in rounded]
    turned = np.array([np.roll(t, -s, axis=0) for t, s in zip(corners, start, strict=True)])
    return turned[np.lexsort(np.round(turned, 7).reshape(-1, 9).T[::-1])]


def tuple_order(points: Array) -> list[int]:
    return sorted(range(len(points)), key=lambda i: tuple(points[i]))


def test_a_mirrored_node_keeps_its_faces_outward(tmp_path: Path) -> None:
    (tmp_path / "a.glb").write_bytes(glb(*wedge(), [{"mesh": 0, "scale": [-1, 1, 1]}]))
    points, triangles = read_mesh(tmp_path / "a.glb")
    a, b, c = (points[triangles[:, i]] for i in range(3))
    # The volume of a tetrahedron of three edges at a corner: their triple product over 6.
    assert np.einsum("ij,ij->", a, np.cross(b, c)) / 6 == pytest.approx(30 * 20 * 10 / 6)


@pytest.mark.parametrize(
    ("name", "data", "unit"),
    [
        ("a.glb", glb(*wedge(), [{"mesh": 0}]), 1.0),
        ("a.3mf", three_mf(*wedge()), 1e-3),
        ("a.3mf", three_mf(*wedge(), unit="inch"), 0.0254),
        ("a.3mf", three_mf(*wedge(), unit="micron"), 1e-6),
        ("a.ply", ply_text(*wedge()), None),
    ],
)
def test_units_that_files_state(name: str, data: bytes, unit: float | None, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(data)
    assert declared_unit(tmp_path / name) == unit


def _nodes(**more: object) -> bytes:
    vertices, faces = wedge()
    return glb(vertices, faces, [{"mesh": 0}], **more)


def _cut(data: bytes) -> bytes:
    return data[: len(data) - 20]


LOOP = TWICE.replace('objectid="1"', 'objectid="2"')
BROKEN = [
    ("a.ply", b"not a mesh", "header"),
    ("a.ply", ply_text(*wedge()).replace(b"format ascii", b"format other"), "header"),
    ("a.ply", ply_text(*wedge(), spoilt="7"), "as many values"),
    ("a.ply", _cut(ply_text(*wedge())), "as many values"),
    ("a.ply", _cut(ply_binary(*wedge(), "<")), "as many values"),
    ("a.ply", ply_text(*wedge()).replace(b"3 0 2 1", b"3 0 2 9"), "between the vertices"),
    ("a.ply", ply_text(*wedge()).replace(b"property float z\n", b""), "x, y and z"),
    ("a.ply", ply_text(*wedge()).replace(b"30.0", b"nan"), "finite"),
    ("a.glb", b"glTF", "version 2"),
    ("a.glb", _cut(_nodes()), "beyond"),
    ("a.glb", _nodes(extensionsRequired=["KHR_draco_mesh_compression"]), "KHR_draco"),
    ("a.glb", _nodes(buffers=[{"byteLength": 9, "uri": "../secret"}]), "elsewhere"),
    ("a.glb", _nodes(nodes=[{"children": [0]}]), "loop"),
    ("a.glb", _nodes(meshes=[{"primitives": [{"attributes": {"POSITION": 0}, "mode": 1}]}]), "mode 1"),
    ("a.glb", _nodes(scenes=[{"nodes": [4]}]), "broken"),
    ("a.3mf", b"PK", "package"),
    ("a.3mf", three_mf(*wedge(), build='<item objectid="7"/>'), "broken"),
    ("a.3mf", three_mf(*wedge(), build="<other/>"), "build"),
    ("a.3mf", three_mf(*wedge(), build='<item objectid="2"/>', more=LOOP), "loop"),
    ("a.3mf", three_mf(*wedge()).replace(b"<model ", b"<other "), ""),
    ("a.dae", b"<COLLADA/>", ".stl, .obj, .ply, .glb or .3mf"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "data", "told"), BROKEN)
def test_files_that_are_none_are_refused_in_words(name: str, data: bytes, told: str, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(data)
    with pytest.raises(MeshError) as refused:
        read_mesh(tmp_path / name)
    assert str(tmp_path / name) in str(refused.value)
    assert told in str(refused.value)


def block_as(project: Path, name: str, write: object, scale: float, unit: str) -> None:
    vertices, triangles = read_mesh(project / "meshes" / "block.stl", 1.0)
    assert callable(write)
    (project / "meshes" / name).write_bytes(write(vertices * scale, triangles))
    edit(project, "product.yaml", "meshes/block.stl, unit: mm", f"meshes/{name}, unit: {unit}")


FORMS = {
    "block.ply": (lambda v, t: ply_binary(v, t, "<"), 1.0, "mm"),
    "block.glb": (lambda v, t: glb(v, t, [{"mesh": 0}]), 1e-3, "m"),
    "block.3mf": (three_mf, 1.0, "mm"),
}


@pytest.mark.parametrize("name", FORMS)
def test_a_project_may_be_drawn_in_any_format(name: str, tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    block_as(project, name, *FORMS[name])
    assert isinstance(check_folder(project), CheckedProject)


@pytest.mark.parametrize(
    ("name", "unit", "stated"),
    [("block.glb", "mm", "write `unit: m`"), ("block.3mf", "cm", "write `unit: mm`")],
)
def test_a_unit_that_contradicts_the_file_is_found(name: str, unit: str, stated: str, tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    write, scale, _ = FORMS[name]
    block_as(project, name, write, scale, unit)
    verdict = check_folder(project)
    assert not isinstance(verdict, CheckedProject)
    (found,) = [f for f in errors(verdict) if f.rule == "mesh-unit"]
    assert found.where == "parts.block.solids.0.unit"
    assert found.fix == stated
