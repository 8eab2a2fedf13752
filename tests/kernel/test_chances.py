"""What chances are worked out with: lines and discs against roots and signs in numpy, regions that have to be
met at once against a search of all places."""

from __future__ import annotations

import numpy as np
import pytest

from handfast import _kernel

from .twin import Floats


def case(seed: int, n: int = 700) -> tuple[Floats, Floats, Floats, Floats]:
    """Seven discs, the last one not moved across by any line; directions that no vector length divides."""
    rng = np.random.default_rng(seed)
    rows = 0.3 * rng.normal(size=(14, 6))
    rows[12:] = 0.0
    return rows, rng.normal(size=(6, n)), 0.8 * rng.normal(size=(14, n)), rng.uniform(0.5, 1.5, (7, n))


@pytest.mark.parametrize("seed", range(3))
def test_the_stretch_of_a_line_in_a_disc_ends_where_the_disc_does(seed: int) -> None:
    rows, along, middle, radii = case(seed)
    near, far = _kernel.chords(rows, along, middle, radii, most=50.0)
    ray = rows @ along
    missed = far < near

    def off(t: Floats) -> Floats:
        return np.hypot(middle[::2] + t * ray[::2], middle[1::2] + t * ray[1::2]) - radii

    assert 0.05 < missed[:6].mean() < 0.95
    inside = off(np.zeros_like(near)) <= 0
    assert ((near == 0) | (np.abs(off(near)) < 1e-9))[~missed].all()
    assert ((far == 50.0) | (np.abs(off(far)) < 1e-9))[~missed].all()
    assert (near[inside] == 0).all()
    assert not missed[inside].any()
    # Where none is told, no t brings the line in: its nearest point to the middle of the disc lies outside.
    nearest = -(ray[::2] * middle[::2] + ray[1::2] * middle[1::2]) / np.maximum(
        ray[::2] ** 2 + ray[1::2] ** 2, 1e-300
    )
    assert (off(np.maximum(nearest, 0.0))[missed] > -1e-9).mean() == 1.0
    assert (off(0.5 * (near + far))[~missed] < 1e-9).all()
    still = slice(6, 7)
    assert np.array_equal(missed[still], ~inside[still])


def test_lines_are_told_one_by_one() -> None:
    rows, along, middle, radii = case(9)
    near, far = _kernel.chords(rows, along, middle, radii, most=50.0)
    for i in (0, 255, 256, 699):
        one = _kernel.chords(rows, along[:, i : i + 1], middle[:, i : i + 1], radii[:, i : i + 1], most=50.0)
        assert np.array_equal(one[0][:, 0], near[:, i])
        assert np.array_equal(one[1][:, 0], far[:, i])


def test_lots_go_together_where_some_place_is_in_all_rooms() -> None:
    """Two and three rooms of a part that shifts and does not turn, against every place of a fine grid."""
    rng = np.random.default_rng(3)
    for k in (2, 3):
        A = np.zeros((k, 2, 3))
        A[:, 0, 0] = A[:, 1, 1] = 1.0
        off, rooms = rng.normal(size=(300, 2 * k)), rng.uniform(0.5, 1.5, (300, k))
        found = _kernel.together(A, np.linalg.pinv(A), off, rooms, sweeps=400, inside=0.999, step=1.8)
        grid = np.stack(np.meshgrid(*(np.linspace(-4, 4, 401),) * 2), axis=-1).reshape(-1, 2)
        for lot in range(300):
            spots = off[lot].reshape(k, 1, 2) + grid
            room = (rooms[lot][:, None] - np.linalg.norm(spots, axis=2)).min(axis=0).max()
            if abs(room) > 0.03:  # the grid cannot tell nearer ones, nor need the sweeps
                assert found[lot] == (room > 0), (k, lot, room)
        assert 0.1 < found.mean() < 0.9


def test_what_does_not_fit_is_refused() -> None:
    rows, along, middle, radii = case(1, 8)
    with pytest.raises(ValueError, match=r"middle: expected shape \(14, 8\), found \(13, 8\)"):
        _kernel.chords(rows, along, middle[:13], radii, most=1.0)
    radii[2, 3] = np.inf
    with pytest.raises(ValueError, match=r"radii: entry 19 is not finite"):
        _kernel.chords(rows, along, middle, radii, most=1.0)
    with pytest.raises(ValueError, match=r"back: expected shape \(2, 3, 2\)"):
        _kernel.together(np.zeros((2, 2, 3)), np.zeros((2, 2, 3)), [], [], sweeps=1, inside=1.0, step=1.0)
