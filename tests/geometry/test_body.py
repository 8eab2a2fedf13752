"""Exact distances, against formulas and against dense samples of both surfaces."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from handfast.geometry.body import Piece, along_its_axis, body, distance, piece_distance
from handfast.model.shape import Box, Cylinder, Mesh, Shape, Solid, Sphere
from handfast.spatial import se3
from handfast.spatial.pose import Pose

from .shapes import MESHES, Array, drawn_pose, drawn_solids, file_corners, surface

CUBE = Box((0.02, 0.04, 0.06))


def gap(a: Shape, b: Shape, T_a_b: Array) -> float:
    T = drawn_pose(np.random.default_rng(0))  # where the pair stands must not matter
    return distance(body("a", (Solid(a),), "/"), T, body("b", (Solid(b),), "/"), T @ T_a_b)


ON_EDGE = se3.rotation(np.array([0, -1.0, 0]), math.pi / 4)
# Shapes, T_a_b and their distance by plane geometry [m].
NEAR = [
    ("faces", CUBE, CUBE, se3.translation(0.021, 0.01, 0.02), 0.001),
    ("edges", CUBE, CUBE, se3.translation(0.021, 0.042, 0.0), math.hypot(0.001, 0.002)),
    ("corners", CUBE, CUBE, se3.translation(0.021, 0.041, 0.061), math.sqrt(3) * 0.001),
    ("edge on face", Box((0.02, 0.02, 0.02)), Box((0.2, 0.2, 0.02)),
     ON_EDGE @ se3.translation(0, 0, -0.012 - 0.01 * math.sqrt(2)), 0.002),
    ("balls", Sphere(0.01), Sphere(0.02), se3.translation(0.018, 0.024, 0.008),
     math.hypot(0.03, 0.008) - 0.03),
    ("ball on face", Sphere(0.01), CUBE, se3.translation(0.0225, 0.0, 0.0), 0.0025),
    ("ball off a corner", Sphere(0.01), CUBE, se3.translation(0.017, 0.027, 0.037),
     math.sqrt(3) * 0.007 - 0.01),
    ("bars side by side", Cylinder(0.01, 0.1), Cylinder(0.02, 0.2), se3.translation(0.0, 0.031, 0.05), 0.001),
    ("bars crossed", Cylinder(0.01, 0.1), Cylinder(0.02, 0.2),
     se3.translation(0.032, 0.0, 0.0) @ se3.rotation(np.array([1.0, 0, 0]), math.pi / 3), 0.002),
    ("bar end on face", Cylinder(0.01, 0.1), CUBE, se3.translation(0.0, 0.0, 0.0815), 0.0015),
]  # fmt: skip


@pytest.mark.parametrize(("a", "b", "T_a_b", "expected"), [n[1:] for n in NEAR], ids=[n[0] for n in NEAR])
def test_near_distances_are_those_of_plane_geometry(
    a: Shape, b: Shape, T_a_b: Array, expected: float
) -> None:
    assert expected > 0
    assert gap(a, b, T_a_b) == pytest.approx(expected, abs=1e-6)
    assert gap(b, a, se3.inverse(T_a_b)) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("apart", [0.0041, 0.02, 0.3])
def test_distances_are_asked_for_only_as_far_as_they_matter(apart: float) -> None:
    ball, cube = body("ball", (Solid(Sphere(0.01)),), "/"), body("cube", (Solid(CUBE),), "/")
    for other, at in ((cube, 0.02), (ball, 0.02)):
        T = se3.translation(at + apart, 0.0, 0.0)
        first = ball if other is cube else cube
        assert distance(first, np.eye(4), other, T) == pytest.approx(apart, abs=1e-6)
        assert distance(first, np.eye(4), other, T, apart + 0.01) == pytest.approx(apart, abs=1e-6)
        assert distance(first, np.eye(4), other, T, apart / 2) == apart / 2


@pytest.mark.parametrize("into", [0.0, 0.001, 0.01])
def test_bodies_that_touch_or_overlap_have_no_distance(into: float) -> None:
    assert gap(CUBE, CUBE, se3.translation(0.02 - into, 0.0, 0.0)) <= 1e-6
    assert gap(Sphere(0.01), Cylinder(0.01, 0.05), se3.translation(0.02 - into, 0.0, 0.0)) <= 1e-6


def test_tumbled_shapes_and_meshes_set_apart_by_a_known_gap() -> None:
    """Their farthest points face each other across two parallel planes, so the gap is their distance."""
    rng = np.random.default_rng(1)
    solids = drawn_solids(rng)
    for _ in range(200):
        a, b = (solids[i] for i in rng.choice(len(solids), 2, replace=False))
        way = rng.normal(size=3)
        way /= np.linalg.norm(way)
        apart = 10 ** rng.uniform(-4, -1)
        T_b = se3.translation(*(farthest(a, way) + apart * way - farthest(b, -way)))
        found = distance(body("a", (a,), "/"), np.eye(4), body("b", (b,), "/"), T_b)
        assert found == pytest.approx(apart, abs=1e-6)
        assert (
            distance(body("a", (a,), "/"), np.eye(4), body("b", (b,), "/"), T_b, 0.9 * apart) == 0.9 * apart
        )


def farthest(solid: Solid, way: Array) -> Array:
    """The point of a solid farthest along `way` (3,), in the frame of its body."""
    shape, T = solid.shape, solid.pose.matrix
    x = T[:3, :3].T @ way
    if isinstance(shape, Box):
        local = np.sign(x) * np.array(shape.size) / 2
    elif isinstance(shape, Cylinder):
        local = np.array([*(x[:2] / np.linalg.norm(x[:2]) * shape.radius), np.sign(x[2]) * shape.length / 2])
    elif isinstance(shape, Sphere):
        local = x * shape.radius
    else:
        vertices = file_corners(Path(shape.path)).reshape(-1, 3) * shape.scale
        local = vertices[(vertices @ x).argmax()]
    return np.asarray(T[:3, :3] @ local + T[:3, 3])


@pytest.mark.parametrize("path", MESHES, ids=lambda p: p.stem)
def test_a_ball_about_a_hollow_mesh_against_dense_samples(path: Path) -> None:
    """Samples lie on the surface, so their distance is never less, and hardly more, than the true one."""
    rng = np.random.default_rng(2)
    solid = Solid(Mesh(str(path), 1e-3))
    on_mesh = surface(solid, rng, 100000)
    mesh, ball = body("mesh", (solid,), "/"), body("ball", (Solid(Sphere(0.0005)),), "/")
    for middle in on_mesh[:60] + rng.normal(size=(60, 3)) * 0.002:
        apart = np.sort(np.linalg.norm(on_mesh - middle, axis=1))
        found = distance(mesh, np.eye(4), ball, se3.translation(*middle))
        assert found <= max(apart[0] - 0.0005, 0.0) + 1e-9  # how deep an overlap is does not matter
        if found > 0:
            loose = apart[0] - np.sqrt(
                max(apart[0] ** 2 - 0.002**2, 0.0)
            )  # a sample lies within 2 mm of any point
            assert found >= apart[0] - 0.0005 - loose


def test_a_body_is_as_near_as_its_nearest_piece() -> None:
    solids = (Solid(Sphere(0.01), Pose((0.1, 0.0, 0.0))), Solid(CUBE, Pose((0.0, 0.0, 0.2))))
    two = body("two", solids, "/")
    ball = body("ball", (Solid(Sphere(0.005)),), "/")
    assert distance(two, np.eye(4), ball, se3.translation(0.117, 0, 0)) == pytest.approx(0.002, abs=1e-6)
    assert distance(two, np.eye(4), ball, se3.translation(0, 0, 0.237)) == pytest.approx(0.002, abs=1e-6)


def test_the_bounds_of_a_piece_contain_its_shape() -> None:
    rng = np.random.default_rng(2)
    for solid in drawn_solids(rng):
        piece: Piece = body("a", (solid,), "/").pieces[0]
        np.testing.assert_allclose(piece.pose, solid.pose.matrix)
        local = (surface(solid, rng) - piece.pose[:3, 3]) @ piece.pose[:3, :3] - piece.middle
        assert (np.abs(local) <= piece.half + 1e-9).all()
        assert np.linalg.norm(local, axis=1).max() <= piece.radius + 1e-9


def test_a_piece_is_placed_by_the_pose_of_its_shape() -> None:
    mesh = body("pin", (Solid(Mesh(str(next(p for p in MESHES if p.stem == "pin")), 1e-3)),), "/").pieces[0]
    ball = body("ball", (Solid(Sphere(0.01)),), "/").pieces[0]
    top = 0.02  # the pin is 40 mm long
    assert piece_distance(mesh, np.eye(4), ball, se3.translation(0, 0, top + 0.0115)) == pytest.approx(
        0.0015, abs=1e-6
    )


@pytest.mark.parametrize(("shape", "axes"), [(CUBE, (0, 1, 2)), (Cylinder(0.01, 0.05), (2,))])
def test_what_is_passed_over_along_an_own_axis_is_as_near_as_the_nearest_place(
    shape: Shape, axes: tuple[int, ...]
) -> None:
    rng = np.random.default_rng(3)
    piece = body("a", (Solid(shape),), "/").pieces[0]
    ball = body("b", (Solid(Sphere(0.004)),), "/").pieces[0]
    for axis in axes:
        for _ in range(30):
            T, length = drawn_pose(rng), float(rng.uniform(-0.06, 0.06))
            step = length * T[:3, axis]
            T_ball = T @ se3.translation(*rng.uniform(-0.12, 0.12, 3))
            whole = along_its_axis(piece, T, step)
            assert whole is not None
            near = [
                piece_distance(piece, se3.translation(*(s * step)) @ T, ball, T_ball)
                for s in np.linspace(0.0, 1.0, 61)
            ]
            if min(near) > 0:
                assert min(near) - 0.0006 <= piece_distance(*whole, ball, T_ball) <= min(near) + 1e-6
            assert along_its_axis(piece, T, step + 1e-3 * T[:3, axis - 1]) is None
    assert along_its_axis(piece, T, np.zeros(3)) is None
