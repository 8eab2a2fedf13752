"""How often a mesh goes around points, against the sum of solid angles over its faces."""

from __future__ import annotations

import numpy as np
import pytest

from handfast import _kernel

from .twin import Floats


def ring(around: int, across: int) -> Floats:
    """Faces (n, 3, 3) of a ring of 0.3 m with a section of 0.1 m, corners anticlockwise from outside."""
    u, v = np.arange(around + 1) * 2 * np.pi / around, np.arange(across + 1) * 2 * np.pi / across
    u, v = np.meshgrid(u, v, indexing="ij")
    p = np.stack(
        [(0.3 + 0.1 * np.cos(v)) * np.cos(u), (0.3 + 0.1 * np.cos(v)) * np.sin(u), 0.1 * np.sin(v)], -1
    )
    a, b, c, d = p[:-1, :-1], p[1:, :-1], p[1:, 1:], p[:-1, 1:]
    faces: Floats = np.concatenate([np.stack(f, -2).reshape(-1, 3, 3) for f in ((a, b, c), (a, c, d))])
    return faces


def by_solid_angles(points: Floats, faces: Floats) -> Floats:
    """The same by A. van Oosterom, J. Strackee, "The solid angle of a plane triangle", IEEE Trans. Biomed.
    Eng. BME-30 (1983), 125-126: the solid angles of all faces over 4 pi."""
    a, b, c = (faces[None, :, k] - points[:, None] for k in range(3))
    la, lb, lc = (np.linalg.norm(x, axis=-1) for x in (a, b, c))
    volume = np.einsum("mni,mni->mn", a, np.cross(b, c))
    ab, bc, ca = (np.einsum("mni,mni->mn", x, y) for x, y in ((a, b), (b, c), (c, a)))
    whole: Floats = (
        2 * np.arctan2(volume, la * lb * lc + ab * lc + bc * la + ca * lb).sum(axis=1) / (4 * np.pi)
    )
    return whole


@pytest.mark.parametrize("turns", [1, 2, -1])
def test_windings_are_the_solid_angles_of_the_faces(turns: int) -> None:
    rng = np.random.default_rng(turns + 5)
    slant, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    slant *= np.linalg.det(slant)
    faces = ring(40, 17) @ slant.T
    faces = np.concatenate([faces[:, ::-1] if turns < 0 else faces] * abs(turns))
    points = rng.uniform(-0.42, 0.42, (600, 3))
    found = _kernel.windings(points, faces)
    assert {0, turns} == set(np.unique(found).tolist())
    np.testing.assert_allclose(found, by_solid_angles(points, faces), atol=1e-9)
    apart = np.concatenate([_kernel.windings(p[None], faces) for p in points])
    np.testing.assert_array_equal(apart, found)  # which points are asked for together is no matter
