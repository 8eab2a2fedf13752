"""Parallel projection."""

from __future__ import annotations

import numpy as np

from handfast.page.viewpoint import Viewpoint


def test_there_and_back() -> None:
    view = Viewpoint((0.1, -0.2, 0.3), 0.4, 0.7, 2.0, (800, 600))
    points = np.random.default_rng(1).normal(size=(50, 3))
    np.testing.assert_allclose(view.unproject(view.project(points)), points, atol=1e-12)


def test_the_axes_are_right_handed_and_unit() -> None:
    for azimuth in (-2.0, 0.0, 0.3, 3.0):
        axes = Viewpoint((0, 0, 0), azimuth, 0.6, 1.0, (10, 10)).axes
        np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
        assert np.linalg.det(axes) > 0


def test_isometric_shortens_all_axes_alike() -> None:
    # ISO 5456-3, isometric axonometry: elevation arcsin(tan 30 deg) = 35.264 deg, every axis at sqrt(2/3).
    # (From memory; the number follows from geometry.)
    view = Viewpoint((0, 0, 0), np.deg2rad(45), np.arcsin(np.tan(np.deg2rad(30))), 1.0, (1000, 1000))
    lengths = np.linalg.norm(view.project(np.eye(3))[:, :2] - view.project(np.zeros(3))[:2], axis=1)
    np.testing.assert_allclose(lengths, 1000 * np.sqrt(2 / 3), rtol=1e-9)


def test_up_is_up_and_nearer_is_nearer() -> None:
    view = Viewpoint((0, 0, 0), 0.0, np.deg2rad(40), 1.0, (100, 100))
    low, high = view.project(np.array([[0, 0, 0], [0, 0, 0.2]]))
    assert high[1] < low[1]
    near, far = view.project(np.array([[0, -0.2, 0], [0, 0.2, 0]]))  # one looks towards +y
    assert near[2] > far[2]
