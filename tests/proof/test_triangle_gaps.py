"""Gaps between surfaces of triangles: by hand, and against coal (a reference library)."""

from __future__ import annotations

import math
from typing import Any

import coal
import numpy as np
import pytest
from tests.proof.test_slides import cube, part, random_pose

from handfast.proof._compiled import Surface, gap_up_to, nearer
from handfast.proof.faceted import Faceted, of_size, of_triangles
from handfast.proof.piece import Piece
from handfast.proof.stl import Array
from handfast.spatial import se3

CLOSE = 1e-8
"""As much as the search may be off by, by what its docstring says [m]."""


def single(*corners: tuple[float, float, float]) -> Surface:
    return Surface(np.array(corners, dtype=float), np.array([[0, 1, 2]], dtype=np.int32), False)


def gap(one: Surface, other: Surface, enough: float = math.inf) -> float:
    return gap_up_to(enough, one, np.eye(4), other, np.eye(4))


FLOOR = single((0, 0, 0), (4, 0, 0), (0, 4, 0))


@pytest.mark.parametrize(
    ("what", "other", "expected"),
    [
        ("a corner over the face", single((1, 1, 0.5), (1, 1, 3), (2, 1, 3)), 0.5),
        ("a corner beside an edge", single((-3, 1, 0), (-4, 1, 1), (-4, 1, -1)), 3.0),
        ("a corner beside a corner", single((-3, -4, 0), (-5, -4, 1), (-5, -6, -1)), 5.0),
        ("two edges askew", single((-1, 2, -1), (-1, 2, 1), (-3, 2, 0)), 1.0),
        ("two edges alike", single((1, -2, 0), (3, -2, 0), (2, -5, 0)), 2.0),
        ("an edge over the face, alike", single((1, 1, 0.25), (2, 1, 0.25), (1.5, 1, 2)), 0.25),
        ("in one plane, one in the other", single((0.5, 0.5, 0), (1, 0.5, 0), (0.5, 1, 0)), 0.0),
        ("one over the other", single((0.5, 0.5, 2), (1, 0.5, 2), (0.5, 1, 2)), 2.0),
        ("an edge through the face", single((1, 1, -1), (1, 1, 1), (9, 9, 1)), 0.0),
        ("a corner on the face", single((1, 1, 0), (1, 1, 1), (2, 1, 1)), 0.0),
        ("as thin as a line, over the face", single((1, 1, 0.5), (2, 1, 0.5), (1.5, 1, 0.5)), 0.5),
        ("as thin as a line, through the face", single((1, 1, -1), (1, 1, 1), (1, 1, 0.5)), 0.0),
        ("a point", single((1, 1, 0.75), (1, 1, 0.75), (1, 1, 0.75)), 0.75),
    ],
)
def test_two_triangles_by_hand(what: str, other: Surface, expected: float) -> None:
    assert gap(FLOOR, other) == pytest.approx(expected, abs=1e-12)
    assert gap(other, FLOOR) == pytest.approx(expected, abs=1e-12)
    assert gap(FLOOR, other, enough=expected / 2) == expected / 2


@pytest.mark.parametrize("seed", range(8))
def test_single_triangles_against_coal(seed: int) -> None:
    """Any two triangles, slivers among them, apart, close and through each other: by coal as two convex
    shapes, which is another algorithm (GJK)."""
    rng = np.random.default_rng(seed)
    met = 0
    for _ in range(300):
        corners = rng.normal(size=(2, 3, 3)) * rng.choice([1.0, 0.01], size=(2, 1, 3))
        expected = max(_by_coal(corners[0], corners[1]), 0.0)
        assert gap(single(*corners[0]), single(*corners[1])) == pytest.approx(expected, abs=1e-5)
        met += expected == 0.0
    assert 10 < met < 290


def _by_coal(p: Array, q: Array) -> float:
    at = coal.Transform3s()
    result = coal.DistanceResult()
    return float(coal.distance(_flat(p), at, _flat(q), at, coal.DistanceRequest(), result))


def _flat(corners: Array) -> Any:
    points, faces = coal.StdVec_Vec3s(), coal.StdVec_Triangle()
    points.extend(list(corners))
    faces.extend([coal.Triangle(0, 1, 2), coal.Triangle(0, 2, 1)])
    return coal.Convex(points, faces)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("drive_gear", "idler_gear"),
        ("pin", "cover"),
        ("ring", "body"),
        ("lower_block", "tray"),
        ("cover", "body"),
    ],
)
def test_meshes_against_coal(one: str, other: str) -> None:
    a, b = part(one), part(other)
    rng = np.random.default_rng(3)
    judged = met = 0
    for spread in (0.01, 0.02, 0.05, 0.2):
        for _ in range(6):
            T_a, T_b = random_pose(rng, spread), random_pose(rng, spread)
            expected = max(_meshes_by_coal(a, T_a, b, T_b), 0.0)
            surfaces = mesh_of(a).surface, mesh_of(b).surface
            for enough in (math.inf, 0.02, 0.5 * expected):
                found = gap_up_to(enough, surfaces[0], T_a, surfaces[1], T_b)
                assert found == pytest.approx(min(expected, enough), abs=2 * CLOSE)
            for than in (expected - 1e-6, expected + 1e-6):
                assert nearer(than, surfaces[0], T_a, surfaces[1], T_b) == (expected < than)
            judged += expected > 0
            met += expected == 0
    assert min(judged, met) > 0


def _meshes_by_coal(a: Piece, T_a: Array, b: Piece, T_b: Array) -> float:
    poses = [coal.Transform3s(T[:3, :3], T[:3, 3]) for T in (T_a, T_b)]
    result = coal.DistanceResult()
    return float(
        coal.distance(mesh_of(a).tree, poses[0], mesh_of(b).tree, poses[1], coal.DistanceRequest(), result)
    )


def mesh_of(piece: Piece) -> Faceted:
    assert piece.vertices is not None
    assert piece.triangles is not None
    return of_triangles(piece.vertices, piece.triangles)


@pytest.mark.parametrize("mesh", ["cover", "drive_gear", "body"])
@pytest.mark.parametrize("size", [(0.008, 0.007, 0.060), (0.2, 0.2, 0.2), (0.05, 0.05, 1e-6)])
def test_a_mesh_and_a_solid_box_against_coal(mesh: str, size: tuple[float, float, float]) -> None:
    """Among them meshes that lie wholly in the box."""
    piece, box = part(mesh), of_size(size)
    rng = np.random.default_rng(5)
    apart = 0
    for spread in (0.01, 0.05, 0.2):
        for _ in range(8):
            T_mesh, T_box = random_pose(rng, spread), random_pose(rng, spread)
            poses = [coal.Transform3s(T[:3, :3], T[:3, 3]) for T in (T_mesh, T_box)]
            given = mesh_of(piece).tree, poses[0], box.tree, poses[1]
            expected = max(coal.distance(*given, coal.DistanceRequest(), coal.DistanceResult()), 0.0)
            surface = mesh_of(piece).surface
            found = gap_up_to(math.inf, surface, T_mesh, box.surface, T_box)
            assert found == pytest.approx(expected, abs=1e-6)
            assert gap_up_to(math.inf, box.surface, T_box, surface, T_mesh) == pytest.approx(found, abs=CLOSE)
            apart += expected > 0
    assert 2 < apart < 24


def test_of_two_pieces_one_may_lie_in_a_box() -> None:
    """The other, which comes first in the mesh, is far off; and what is hollow holds nothing."""
    vertices, triangles = cube(0.01)
    both = np.concatenate([vertices + np.array([1.0, 0.0, 0.0]), vertices])
    mesh = of_triangles(both, np.concatenate([triangles, triangles + len(vertices)]))
    for size, gap in ((0.02, 0.0), (0.009, 0.0005)):
        there = gap_up_to(math.inf, mesh.surface, np.eye(4), of_size((size,) * 3).surface, np.eye(4))
        assert there == pytest.approx(gap, abs=1e-12)
    shell = of_triangles(*cube(0.02))
    assert gap_up_to(math.inf, mesh.surface, np.eye(4), shell.surface, np.eye(4)) == pytest.approx(0.005)


def test_a_surface_that_is_touched_in_one_point_and_cut_elsewhere_is_cut() -> None:
    cone = [(0, 0, 0), (1, 0, 1), (0, 1, 1), (5, 5, -1), (6, 5, 1), (5, 6, 1)]
    both = Surface(np.array(cone, dtype=float), np.array([[0, 1, 2], [3, 4, 5]], dtype=np.int32), False)
    floor = single((-20, -20, 0), (40, -20, 0), (-20, 40, 0))
    assert gap(both, floor) == 0.0
    lifted = gap_up_to(1.0, both, se3.translation(0, 0, 5e-9), floor, np.eye(4))
    assert lifted == 0.0


def test_no_triangles_are_far_from_everything() -> None:
    nothing = Surface(np.zeros((1, 3)), np.zeros((0, 3), dtype=np.int32), False)
    assert gap(nothing, FLOOR, enough=0.1) == 0.1


def test_what_is_no_surface_is_refused() -> None:
    with pytest.raises(ValueError, match="triangles: expected indices of vertices"):
        Surface(np.zeros((3, 3)), np.array([[0, 1, 3]], dtype=np.int32), False)
    nowhere = np.full((4, 4), np.nan)
    for asked in (gap_up_to, nearer):
        with pytest.raises(ValueError, match="poses: expected finite numbers"):
            asked(0.1, FLOOR, nowhere, FLOOR, np.eye(4))
    with pytest.raises(ValueError, match="vertices: expected finite lengths"):
        Surface(np.full((3, 3), np.nan), np.array([[0, 1, 2]], dtype=np.int32), False)
