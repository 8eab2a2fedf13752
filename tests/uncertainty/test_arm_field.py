from __future__ import annotations

import math

import numpy as np

from handfast.uncertainty.arm_field import NO_STOPS, visit


def test_values_at_the_stops_are_correlated_as_the_field_says() -> None:
    rng, length = np.random.default_rng(8), 0.2
    points = rng.uniform(-0.4, 0.4, (12, 3))
    points[5] = points[4] + 1e-3  # two stops that nearly coincide
    field, names, rows = NO_STOPS, [f"stop {i}" for i in range(12)], []
    for name, point in zip(names, points, strict=True):
        field, weights = visit(field, name, point, length)
        rows.append([dict(weights).get(n, 0.0) for n in names])
    W = np.array(rows)
    distances = np.linalg.norm(points[:, None] - points[None], axis=-1)
    np.testing.assert_allclose(W @ W.T, np.exp(-0.5 * (distances / length) ** 2), atol=1e-9)


def test_near_stops_cancel_and_far_ones_do_not() -> None:
    length = 0.2
    for distance, left in ((0.01, 0.05), (0.2, 0.89), (1.0, math.sqrt(2))):
        field, a = visit(NO_STOPS, "touch", np.zeros(3), length)
        _, b = visit(field, "mate", np.array([distance, 0.0, 0.0]), length)
        difference = {k: dict(b).get(k, 0.0) - dict(a).get(k, 0.0) for k in dict(b)}
        assert abs(math.sqrt(sum(v * v for v in difference.values())) - left) < 0.005


def test_the_same_stop_has_the_same_value_and_a_second_point_of_it_another_draw() -> None:
    field, a = visit(NO_STOPS, "insert", np.zeros(3), 0.2)
    again, b = visit(field, "insert", np.zeros(3), 0.2)
    assert a == b
    assert again is field
    moved, d = visit(field, "insert", np.array([0.1, 0.0, 0.0]), 0.2)
    assert len(moved.names) == 2
    assert len(set(moved.names)) == 2
    assert [n for n, _ in d] == list(moved.names)
