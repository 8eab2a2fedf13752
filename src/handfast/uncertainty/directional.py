"""The chance that linear maps of many independent errors all stay within their discs, tails included.

Directional simulation: the normal errors together are a direction and a distance; along a direction each
disc leaves one stretch of distances, and the chance of the distance is the chi distribution in closed form.
What is not normal and not small, and the sizes of the parts, is drawn with each direction. So rare failures
are told as surely as common ones. Source: Ditlevsen, Melchers and Gluver, General multi-dimensional
probability integration by directional simulation, Computers and Structures 36 (1990) 355-368 (from memory).

The points are fixed, so equal questions give equal answers: a low-discrepancy sequence in the first eight
coordinates (M. Roberts, The unreasonable effectiveness of quasirandom sequences, 2018, from memory),
turned into normals in pairs (Box and Muller 1958).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from handfast.spatial.se3 import Array

_BEST_COORDINATES = 8
_FAR = 1e3
_SEED = 20_240_601


@dataclass(frozen=True, eq=False, slots=True)
class Chords:
    """near, far (n, k): stretch of distances that each of k discs leaves along each of n directions;
    freedoms: of the chi distribution, even.
    """

    near: Array
    far: Array
    freedoms: int

    def chance(self, which: NDArray[np.bool_]) -> float:
        """That the discs marked in `which` (k,) all hold."""
        if not which.any():
            return 1.0
        near, far = self.near[:, which].max(axis=1), self.far[:, which].min(axis=1)
        inside = _beyond(near, self.freedoms) - _beyond(np.maximum(near, far), self.freedoms)
        return float(np.clip(inside.mean(), 0.0, 1.0))


@dataclass(frozen=True, eq=False, slots=True)
class Normal:
    """Two rows of each of k discs, of f unit normal draws, f even and as few as can be: rows (2 k, f), in
    units of the discs' sizes, scale (k,)."""

    rows: Array
    scale: Array

    @staticmethod
    def of(rows: Array, sizes: Array) -> Normal:
        """From any number of draws: rows (2 k, c); sizes (k,), such as the discs' radii."""
        scale = np.maximum(sizes, 1e-15)
        return Normal(_reduced(rows / np.repeat(scale, 2)[:, None]), scale)

    @property
    def freedoms(self) -> int:
        """How many coordinates of a point are used for its direction, f."""
        return int(self.rows.shape[1])


def chords(normal: Normal, centre: Array, radii: Array, along: Array, periods: Array | None = None) -> Chords:
    """What k discs leave along n directions.

    centre (n, 2 k): everything that is not normal, drawn once for each direction; radii (n, k); along (n, f):
    unit directions.

    periods (k,): > 0 where the first row repeats itself; only the centre is brought back, so the normal
    part must be small against the period.
    """
    rx, ry = along @ normal.rows[::2].T, along @ normal.rows[1::2].T
    x, y = centre[:, ::2], centre[:, 1::2]
    if periods is not None and (periods > 0).any():
        p = np.where(periods > 0, periods, 1.0)
        x = np.where(periods > 0, x - p * np.round(x / p), x)
    near, far = _chord((rx, ry), (x / normal.scale, y / normal.scale), radii / normal.scale)
    return Chords(near, far, normal.freedoms)


@lru_cache(maxsize=64)
def points(count: int, dimensions: int) -> Array:
    """`count` points (count, dimensions) in the unit cube, always the same."""
    out = np.empty((count, dimensions))
    best = min(dimensions, _BEST_COORDINATES)
    ratio = 2.0
    for _ in range(60):  # root of g^(d+1) = g + 1
        ratio = (1.0 + ratio) ** (1.0 / (best + 1))
    steps = ratio ** -np.arange(1.0, best + 1)
    out[:, :best] = (0.5 + np.arange(1, count + 1)[:, None] * steps) % 1.0
    if dimensions > best:
        out[:, best:] = np.random.default_rng(_SEED).random((count, dimensions - best))
    out.flags.writeable = False
    return out


@lru_cache(maxsize=64)
def directions(count: int, dimensions: int, freedoms: int) -> Array:
    """Unit directions (count, freedoms), an even number, from the first coordinates of `points`."""
    uniform, half = points(count, dimensions), freedoms // 2
    radius = np.sqrt(-2.0 * np.log(np.maximum(uniform[:, :half], 1e-300)))
    angle = 2.0 * np.pi * uniform[:, half:freedoms]
    out = np.concatenate([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    out /= np.linalg.norm(out, axis=1, keepdims=True)
    out.flags.writeable = False
    return out


def _reduced(normal: Array) -> Array:
    """(m, f) with the same covariance as (m, c), f even and as small as can be."""
    variances, axes = np.linalg.eigh(normal @ normal.T)
    kept = variances > 1e-12 * max(float(variances[-1]), 1e-300)
    spread = axes[:, kept] * np.sqrt(variances[kept])
    missing = spread.shape[1] % 2 if spread.shape[1] else 2
    return np.hstack([spread[:, ::-1], np.zeros((len(spread), missing))])


def _chord(rays: tuple[Array, Array], start: tuple[Array, Array], radius: Array) -> tuple[Array, Array]:
    """Stretch of t with |start + t ray| <= radius; x and y of both, and radius, (n, k). Empty: (1, 0)."""
    (rx, ry), (x, y) = rays, start
    a = rx * rx + ry * ry
    b = rx * x + ry * y
    c = x * x + y * y - radius * radius
    still = a <= 1e-28
    a[still] = 1.0
    square = b * b - a * c
    root = np.sqrt(np.maximum(square, 0.0))
    near, far = np.maximum((-b - root) / a, 0.0), np.minimum((root - b) / a, _FAR)
    missed = np.where(still, c > 0.0, square < 0.0)
    near[still], far[still] = 0.0, _FAR
    near[missed], far[missed] = 1.0, 0.0
    return near, far


def _beyond(distance: Array, freedoms: int) -> Array:
    """P(chi with an even number of freedoms > distance) = exp(-h) sum of h^j/j!, h = distance^2/2."""
    h = 0.5 * distance * distance
    term = total = np.ones_like(h)
    for j in range(1, freedoms // 2):
        term = term * h / j
        total = total + term
    return np.asarray(np.exp(-h) * total)
