"""Which boxes may come near each other on a straight way, against coal's exact distances of boxes."""

from __future__ import annotations

import coal
import numpy as np
import pytest
from scipy.spatial.transform import Rotation  # type: ignore[import-untyped]  # it ships no types

from handfast import _kernel

from .twin import Floats


def boxes(rng: np.random.Generator, count: int, aligned: bool) -> tuple[Floats, Floats, Floats]:
    """Poses of shapes, middles of the boxes around them in their frames, half extents."""
    T = np.tile(np.eye(4), (count, 1, 1))
    T[:, :3, :3] = np.eye(3) if aligned else Rotation.random(count, rng).as_matrix()
    T[:, :3, 3] = rng.uniform(-0.3, 0.3, (count, 3))
    return T, rng.uniform(-0.03, 0.03, (count, 3)), rng.uniform(0.005, 0.12, (count, 3))


def near_pairs(
    a: tuple[Floats, Floats, Floats], b: tuple[Floats, Floats, Floats], step: Floats, apart: float
) -> set[tuple[int, int]]:
    (T, middle, half), turned = b, b[0][:, :3, :3].transpose(0, 2, 1)
    origin = np.einsum("kij,kj->ki", turned, T[:, :3, 3]) + middle
    return set(_kernel.near_pairs(*a, turned, origin, half, step, apart))


def distance(
    a: tuple[Floats, Floats, Floats], i: int, b: tuple[Floats, Floats, Floats], k: int, off: Floats
) -> float:
    """Of box i, moved aside, from box k [m]; not above 0 where they meet."""
    placed = []
    for (T, middle, half), n, aside in ((a, i, off), (b, k, np.zeros(3))):
        at = T[n, :3, :3] @ middle[n] + T[n, :3, 3] + aside
        placed += [coal.Box(*(2 * half[n])), coal.Transform3s(T[n, :3, :3], at)]
    return float(coal.distance(*placed, coal.DistanceRequest(), coal.DistanceResult()))


@pytest.mark.parametrize("aligned", [True, False])
def test_boxes_that_stand_still_are_near_where_they_meet(aligned: bool) -> None:
    rng = np.random.default_rng(3)
    a, b = boxes(rng, 40, aligned), boxes(rng, 40, aligned)
    found = near_pairs(a, b, np.zeros(3), 0.0)
    gaps = {(i, k): distance(a, i, b, k, np.zeros(3)) for i in range(40) for k in range(40)}
    assert {p for p, d in gaps.items() if d < -1e-6} <= found
    assert not {p for p, d in gaps.items() if d > 1e-6} & found
    assert 50 < len(found) < 800


@pytest.mark.parametrize("seed", range(4))
def test_what_is_left_out_stays_apart_all_along_the_way(seed: int) -> None:
    rng = np.random.default_rng(seed)
    a, b, apart = boxes(rng, 25, seed == 3), boxes(rng, 25, False), (0.0005, 0.02)[seed % 2]
    step = rng.normal(size=3) * 0.15
    found = near_pairs(a, b, step, apart)
    least = {
        (i, k): min(distance(a, i, b, k, s * step) for s in np.linspace(0, 1, 41))
        for i in range(25)
        for k in range(25)
    }
    assert {p for p, d in least.items() if d < apart - 1e-6} <= found
    near = {p for p, d in least.items() if d < apart + np.linalg.norm(step) / 40}
    assert len(near) > 30
    assert len(found) < 1.5 * len(near)  # few more: what separates a way from a box is not all looked at


@pytest.mark.parametrize("seed", range(6))
def test_the_cut_that_saves_most_is_the_best_of_all_tried_one_by_one(seed: int) -> None:
    rng = np.random.default_rng(seed)
    middle = rng.normal(size=(300, 3)) * (0.1, 0.02, 0.05) + np.where(
        rng.random((300, 1)) < 0.5, 0, (0.3, 0, 0.4)
    )
    half, shares = rng.uniform(0, 0.02, (300, 3)), np.array([0.15, 0.3, 0.5, 0.7, 0.85])
    low, high = middle - half, middle + half

    def volume(of: Floats) -> float:
        return float(np.prod(high[of].max(axis=0) - low[of].min(axis=0)))

    best, below = 0.0, np.zeros(300, dtype=bool)
    for axis in range(3):
        along = middle[:, axis]
        for share in shares:
            under = along < along.min() + share * (along.max() - along.min())
            if under.any() and not under.all():
                saved = volume(np.ones(300, dtype=bool)) - volume(under) - volume(~under)
                if saved > best:
                    best, below = saved, under
    saved, found = _kernel.best_cut(low, high, middle, shares)
    assert saved == pytest.approx(best, rel=1e-12)
    assert saved > 0
    np.testing.assert_array_equal(found, below)
    none, nowhere = _kernel.best_cut(low[:1], high[:1], middle[:1], shares)  # one box saves nothing
    assert none == 0
    assert not nowhere.any()
