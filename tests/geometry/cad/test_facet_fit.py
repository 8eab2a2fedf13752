"""Round surfaces through corners of facets: known surfaces, sampled as a mesher does."""

from __future__ import annotations

import numpy as np
import pytest

from handfast.geometry.cad.facet_fit import RoundKind, Surface, fit_round

TURN = np.linalg.qr(np.random.default_rng(5).normal(size=(3, 3)))[0]
AT = np.array([0.12, -0.05, 0.3])


def ring(radius: float, z: float, count: int = 12, over: float = 2 * np.pi) -> np.ndarray:
    t = np.arange(count) * over / count
    return np.column_stack([radius * np.cos(t), radius * np.sin(t), np.full(count, z)])


CASES: list[tuple[RoundKind, np.ndarray, float, float, float]] = [
    ("cylinder", np.concatenate([ring(4e-3, 0), ring(4e-3, 9e-3)]), 4e-3, 0.0, 0.0),
    ("cylinder", np.concatenate([ring(4e-3, 0, 6, np.pi / 2), ring(4e-3, 9e-3, 6, np.pi / 2)]), 4e-3, 0, 0),
    ("cone", np.concatenate([ring(3e-3, 0), ring(5e-3, 2e-3)]), 0.0, np.pi / 4, 0.0),
    (
        "torus",
        np.concatenate(
            [ring((9 + 1.5 * np.cos(a)) * 1e-3, 1.5e-3 * np.sin(a), 24) for a in np.arange(16) * np.pi / 8]
        ),
        9e-3,
        0.0,
        1.5e-3,
    ),
    (
        "sphere",
        np.concatenate([ring(5e-3 * np.cos(a), 5e-3 * np.sin(a)) for a in (-0.5, 0, 0.4)]),
        5e-3,
        0,
        0,
    ),
]


@pytest.mark.parametrize(("kind", "points", "radius", "half", "tube"), CASES)
def test_a_surface_is_found_from_a_rough_guess_of_its_axis(
    kind: RoundKind, points: np.ndarray, radius: float, half: float, tube: float
) -> None:
    axis = TURN @ np.array([0.1, -0.08, 1.0])
    found = fit_round(kind, points @ TURN.T + AT, axis, 1e-7)
    assert found is not None
    assert abs(float(found.axis @ TURN[:, 2])) == pytest.approx(1, abs=1e-9) or kind == "sphere"
    if kind == "cone":
        assert abs(found.half_angle) == pytest.approx(half, abs=1e-7)
    else:
        assert found.radius == pytest.approx(radius, abs=1e-9)
    assert found.tube == pytest.approx(tube, abs=1e-9)


def test_corners_that_lie_on_none_give_none() -> None:
    bent = np.concatenate([ring(4e-3, 0), ring(4e-3, 9e-3)])
    bent[0, 0] += 50e-6
    assert fit_round("cylinder", bent, np.array([0.0, 0, 1]), 1.5e-6) is None


def test_distances_and_normals_agree() -> None:
    """The distance changes along the normal by what one moves."""
    rng = np.random.default_rng(3)
    points = rng.normal(size=(20, 3))
    for surface in (
        Surface("cylinder", np.zeros(3), np.array([0, 0, 1.0]), 0.8),
        Surface("cone", np.zeros(3), np.array([0, 0, 1.0]), 1.5, 0.3),
        Surface("sphere", np.zeros(3), np.array([0, 0, 1.0]), 0.9),
        Surface("torus", np.zeros(3), np.array([0, 0, 1.0]), 2.0, tube=0.4),
    ):
        moved = points + 1e-6 * surface.normals(points)
        np.testing.assert_allclose((surface.off(moved) - surface.off(points)) / 1e-6, 1, atol=1e-4)
