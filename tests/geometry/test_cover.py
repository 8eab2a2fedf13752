"""Covers contain what they cover: dense samples of every kind of shape, none outside."""

from __future__ import annotations

import numpy as np
import pytest

from handfast.geometry import cover
from handfast.model.shape import Box, Cylinder, Mesh, Solid
from handfast.spatial.pose import Pose

from .shapes import MESHES, Array, drawn_solids, surface

SOLIDS = drawn_solids(np.random.default_rng(7))
IDS = [f"{type(s.shape).__name__} {i}" for i, s in enumerate(SOLIDS)]


def outside_boxes(points: Array, solids: tuple[Solid, ...]) -> Array:
    """How far each point lies outside the nearest box [m], negative inside."""
    poses, halves = cover.boxes(solids, "/")
    local = np.einsum("bji,pbj->pbi", poses[:, :3, :3], points[:, None] - poses[:, :3, 3])
    return np.asarray((np.abs(local) - halves).max(axis=2).min(axis=1))


def outside_spheres(points: Array, spheres: Array) -> Array:
    """How far each point lies outside the nearest sphere [m], negative inside."""
    nearest = np.full(len(points), np.inf)
    for x, y, z, radius in spheres:
        nearest = np.minimum(nearest, np.linalg.norm(points - [x, y, z], axis=1) - radius)
    return nearest


@pytest.mark.parametrize("solid", SOLIDS, ids=IDS)
def test_boxes_contain_the_surface(solid: Solid) -> None:
    points = surface(solid, np.random.default_rng(1), 20000)
    assert outside_boxes(points, (solid,)).max() < 1e-9


@pytest.mark.parametrize("cell", [0.05, 0.015, 0.006])
@pytest.mark.parametrize("solid", SOLIDS, ids=IDS)
def test_spheres_contain_the_surface(solid: Solid, cell: float) -> None:
    points = surface(solid, np.random.default_rng(2), int(20000 * cell**0.5))
    assert outside_spheres(points, cover.spheres((solid,), "/", cell)).max() < 1e-9


def test_covers_of_several_solids_contain_them_all() -> None:
    spheres = cover.spheres(SOLIDS, "/")
    for solid in SOLIDS:
        points = surface(solid, np.random.default_rng(3), 1000)
        assert outside_boxes(points, SOLIDS).max() < 1e-9
        assert outside_spheres(points, spheres).max() < 1e-9


def test_nothing_is_covered_by_nothing() -> None:
    assert cover.spheres((), "/").shape == (0, 4)
    assert cover.boxes((), "/")[0].shape == (0, 4, 4)
    assert cover.boxes((), "/")[1].shape == (0, 3)


@pytest.mark.parametrize("cell", [0.03, 0.01])
def test_spheres_stand_out_by_no_more_than_their_cell_asks(cell: float) -> None:
    """By half the diagonal of a cell over a box; over a round bar by less (formulas: Pythagoras)."""
    box = cover.spheres((Solid(Box((0.1, 0.06, 0.02))),), "/", cell)
    assert (np.abs(box[:, :3]) + box[:, 3:] - np.array([0.05, 0.03, 0.01])).max() <= np.sqrt(
        3
    ) / 2 * cell + 1e-12
    bar = cover.spheres((Solid(Cylinder(0.05, 0.3)),), "/", cell)
    assert bar[:, 3].max() <= np.hypot(0.05, max(cell, 0.05) / 2) + 1e-12


@pytest.mark.parametrize("path", [p for p in MESHES if p.stem in ("tray", "presenter")], ids=lambda p: p.stem)
def test_hollow_meshes_are_not_filled_up(path: object) -> None:
    """A holder's pocket must stay open: the boxes take clearly less room than the one around everything."""
    solid = Solid(Mesh(str(path), 1e-3), Pose())
    points = surface(solid, np.random.default_rng(4), 20000)
    _, halves = cover.boxes((solid,), "/")
    assert 1 < len(halves) <= 12
    assert np.prod(2 * halves, axis=1).sum() < 0.95 * np.prod(np.ptp(points, axis=0))
