"""Resting poses against solid geometry: cuboids, cylinders, a wedge, tumbled and off centre."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from handfast.geometry.mesh import surface_points
from handfast.mates.resting import RestingPose, resting_poses
from handfast.model.shape import Box, Cylinder, Mesh, Solid, Sphere
from handfast.spatial import se3

Array = NDArray[np.float64]
ORIGIN = np.zeros(3)
MESHES = Path(__file__).parents[2] / "projects" / "first-fit" / "meshes"


def rectangle_seen(a: float, b: float, d: float) -> float:
    """Solid angle [sr] of a rectangle a x b seen from d above its middle: the closed formula of the
    pyramid."""
    return 4 * math.asin(a * b / math.sqrt((a * a + 4 * d * d) * (b * b + 4 * d * d)))


def down(pose: RestingPose) -> Array:
    """The direction in the part's frame that points down."""
    return np.asarray(-pose.T_surface_part[2, :3])


def test_a_cuboid_lies_on_its_six_faces_as_likely_as_they_are_seen() -> None:
    sides = np.array([0.060, 0.040, 0.020])
    poses = resting_poses(surface_points((Solid(Box(tuple(sides))),), "/"), ORIGIN)
    assert len(poses) == 6
    assert sum(p.share for p in poses) == pytest.approx(1.0)
    for pose in poses:
        axis = int(np.abs(down(pose)).argmax())
        a, b = np.delete(sides, axis)
        assert abs(down(pose)[axis]) == pytest.approx(1.0)
        assert pose.share == pytest.approx(rectangle_seen(a, b, sides[axis] / 2) / (4 * math.pi))
        assert pose.margin == pytest.approx(min(a, b) / 2)
        assert pose.T_surface_part[2, 3] == pytest.approx(sides[axis] / 2)
        np.testing.assert_allclose(pose.T_surface_part[:2, 3], 0, atol=1e-12)
    assert [p.share for p in poses] == sorted((p.share for p in poses), reverse=True)


@pytest.mark.parametrize("radius", [0.004, 0.015, 0.030, 0.200])
def test_a_cylinder_stands_on_its_two_ends_and_never_on_its_flank(radius: float) -> None:
    length = radius * 1.5
    poses = resting_poses(surface_points((Solid(Cylinder(radius, length)),), "/"), ORIGIN)
    assert sorted(round(float(down(p)[2])) for p in poses) == [-1, 1]
    for pose in poses:
        # A cone of half angle atan(r / d) is seen under 2 pi (1 - cos); the rim is drawn with 64 sides.
        d = length / 2
        cap = 2 * math.pi * (1 - d / math.hypot(d, radius))
        assert pose.share == pytest.approx(cap / (4 * math.pi), rel=0.005)
        assert pose.margin == pytest.approx(radius * math.cos(math.pi / 64))
        assert pose.T_surface_part[2, 3] == pytest.approx(d)


def test_a_slender_pin_still_stands_on_its_ends() -> None:
    poses = resting_poses(surface_points((Solid(Mesh("pin.stl", 1e-3)),), str(MESHES)), ORIGIN)
    assert sorted(round(float(down(p)[2])) for p in poses) == [-1, 1]
    slender = resting_poses(surface_points((Solid(Cylinder(0.002, 0.050)),), "/"), ORIGIN)
    assert len(slender) == 2


def test_a_ball_lies_nowhere() -> None:
    assert resting_poses(surface_points((Solid(Sphere(0.05)),), "/"), ORIGIN) == []


def test_a_part_out_of_balance_does_not_rest_where_it_would_tip() -> None:
    """A block 60 x 20 x 20 with its centre of mass 26 mm to one side: on the far end it still stands, and on
    its sides its margin is the 4 mm to the near end."""
    points = surface_points((Solid(Box((0.060, 0.020, 0.020))),), "/")
    aside = np.array([0.026, 0.0, 0.0])
    poses = {tuple(np.round(down(p)).astype(int)): p for p in resting_poses(points, aside)}
    assert len(poses) == 6
    assert poses[0, 0, -1].margin == pytest.approx(0.004)
    assert poses[1, 0, 0].margin == pytest.approx(0.010)
    assert poses[1, 0, 0].T_surface_part[2, 3] + 0 == pytest.approx(0.030)
    np.testing.assert_allclose(poses[0, 0, -1].T_surface_part[:2] @ [*aside, 1], 0, atol=1e-12)
    beyond = resting_poses(points, np.array([0.0295, 0.0, 0.0]))
    assert {tuple(np.round(down(p)).astype(int)) for p in beyond} == {(1, 0, 0), (-1, 0, 0)}


@pytest.mark.parametrize("seed", range(5))
def test_a_tumbled_wedge_rests_as_it_does_upright(seed: int) -> None:
    """A right wedge of 45 deg: five faces, all stable; the answer must not hang on the frame it is drawn
    in."""
    wedge = np.array([[x, y, z] for x, z in ((0, 0), (0.04, 0), (0, 0.04)) for y in (0.0, 0.05)])
    middle = wedge.mean(axis=0)
    rng = np.random.default_rng(seed)
    T = se3.exp(np.concatenate([rng.uniform(-1, 1, 3), rng.normal(size=3)]))
    here = resting_poses(wedge, middle)
    there = resting_poses(wedge @ T[:3, :3].T + T[:3, 3], T[:3, :3] @ middle + T[:3, 3])
    assert len(here) == 5
    assert sum(p.share for p in here) == pytest.approx(1.0)
    np.testing.assert_allclose([p.share for p in there], [p.share for p in here], atol=1e-6)
    np.testing.assert_allclose(sorted(p.margin for p in there), sorted(p.margin for p in here), atol=1e-6)
    for pose in there:  # lying on the surface: nothing below it, a face of at least three corners on it
        heights = (wedge @ T[:3, :3].T + T[:3, 3]) @ pose.T_surface_part[2, :3] + pose.T_surface_part[2, 3]
        assert heights.min() > -1e-6
        assert (heights < 1e-6).sum() >= 3
        np.testing.assert_allclose(
            pose.T_surface_part[:3, :3] @ pose.T_surface_part[:3, :3].T, np.eye(3), atol=1e-9
        )


def test_the_least_margin_is_the_callers() -> None:
    points = surface_points((Solid(Box((0.060, 0.040, 0.002))),), "/")
    assert len(resting_poses(points, ORIGIN, 0.0005)) == 6
    assert len(resting_poses(points, ORIGIN, 0.0015)) == 2
