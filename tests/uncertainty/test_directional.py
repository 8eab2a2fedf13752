"""Chances of many linear conditions at once: against closed forms and against plain counting."""

from __future__ import annotations

import math

import numpy as np
import pytest

from handfast.uncertainty.directional import Normal, chords, directions, points

COUNT = 4096


def chance(normal: np.ndarray, radii: list[float], centre: np.ndarray | None = None) -> float:
    few = Normal.of(normal, np.array(radii))
    middle = np.zeros((COUNT, len(normal))) if centre is None else centre
    along = directions(COUNT, few.freedoms, few.freedoms)
    return chords(few, middle, np.tile(radii, (COUNT, 1)), along).chance(np.ones(len(radii), dtype=bool))


@pytest.mark.parametrize("radius", [1.0, 3.0, 5.0, 7.0])
def test_one_round_error_in_a_disc(radius: float) -> None:
    # Rayleigh: P(outside) = exp(-R^2/2), down to 2e-11.
    assert 1 - chance(np.eye(2), [radius]) == pytest.approx(math.exp(-0.5 * radius**2), rel=1e-6)


def test_one_freedom_is_two_sided() -> None:
    # A slab: P(|x| < 2) = 0.954500 (normal table).
    assert chance(np.array([[1.0], [0.0]]), [2.0]) == pytest.approx(0.954500, abs=2e-3)


def test_independent_discs_multiply_and_equal_ones_do_not() -> None:
    one = 1 - math.exp(-2.0)
    assert chance(np.eye(4), [2.0, 2.0]) == pytest.approx(one**2, abs=3e-3)
    same = np.vstack([np.eye(2), np.eye(2)])
    assert chance(same, [2.0, 2.0]) == pytest.approx(one, abs=1e-3)


def test_many_coupled_conditions_as_counted_in_plain_draws() -> None:
    rng = np.random.default_rng(4)
    normal = rng.normal(size=(10, 14)) * 0.33
    radii = [1.5, 2.0, 3.0, 1.8, 2.5]
    drawn = rng.normal(size=(200_000, 14)) @ normal.T
    good = np.all([np.hypot(*drawn[:, 2 * i : 2 * i + 2].T) < r for i, r in enumerate(radii)], axis=0)
    share = good.mean()
    assert 0.2 < share < 0.9
    assert chance(normal, radii) == pytest.approx(share, abs=0.01)


def test_a_uniform_part_is_drawn_with_the_direction() -> None:
    # x uniform in +-1, y normal with sigma 0.1, disc of radius 0.9: nearly the uniform share, 0.9.
    spot = points(COUNT, 3)
    centre = np.stack([2 * spot[:, 2] - 1, np.zeros(COUNT)], axis=1)
    normal = Normal.of(np.array([[0.0], [0.1]]), np.array([0.9]))
    found = chords(normal, centre, np.full((COUNT, 1), 0.9), directions(COUNT, 3, 2)).chance(np.array([True]))
    rng = np.random.default_rng(9)
    x, y = rng.uniform(-1, 1, 400_000), 0.1 * rng.normal(size=400_000)
    assert found == pytest.approx(float((np.hypot(x, y) < 0.9).mean()), abs=3e-3)
    # Taken as normal with the same variance it would be far off: sigma 0.577, P(|x| < 0.9) = 0.881.
    assert abs(found - chance(np.array([[3**-0.5, 0.0], [0.0, 0.1]]), [0.9])) > 0.01


def test_what_repeats_itself_is_brought_back() -> None:
    # Uniform over three whole periods of 1, window +-0.1: a fifth of them.
    spot = points(COUNT, 3)
    centre = np.stack([3 * spot[:, 2] - 1.5, np.zeros(COUNT)], axis=1)
    window, normal = np.full((COUNT, 1), 0.1), Normal.of(np.array([[1e-6], [0.0]]), np.array([0.1]))
    once = chords(normal, centre, window, directions(COUNT, 3, 2)).chance(np.array([True]))
    often = chords(normal, centre, window, directions(COUNT, 3, 2), np.array([1.0])).chance(np.array([True]))
    assert once == pytest.approx(0.2 / 3, abs=2e-3)
    assert often == pytest.approx(0.2, abs=2e-3)


def test_no_error_at_all_is_inside_or_outside() -> None:
    none = np.zeros((2, 3))
    assert chance(none, [1.0]) == 1.0
    assert chance(none, [1.0], np.tile([2.0, 0.0], (COUNT, 1))) == 0.0


def test_points_fill_the_cube_and_stay_the_same() -> None:
    for dimensions in (4, 10, 20):
        found = points(COUNT, dimensions)
        assert np.array_equal(found, points(COUNT, dimensions))
        assert found.mean(axis=0) == pytest.approx(np.full(dimensions, 0.5), abs=0.02)
        assert np.abs(np.corrcoef(found.T) - np.eye(dimensions)).max() < 0.06
