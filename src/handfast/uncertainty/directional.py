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

from handfast import _kernel
from handfast.spatial.se3 import Array

_BEST_COORDINATES = 8
_FAR = 1e3
# No disc is smaller, so that all can be told in units of theirs.
LEAST_SIZE = 1e-15
_SEED = 20_240_601


@dataclass(frozen=True, eq=False, slots=True)
class Chords:
    """near, far (k, n): stretch of distances that each of k discs leaves along each of n directions;
    freedoms: of the chi distribution, even.
    """

    near: Array
    far: Array
    freedoms: int

    def chance(self, which: NDArray[np.bool_]) -> float:
        """That the discs marked in `which` (k,) all hold."""
        if not which.any():
            return 1.0
        near, far = self.near[which].max(axis=0), self.far[which].min(axis=0)
        inside = -_beyond(np.maximum(near, far), self.freedoms)
        inside += _beyond(near, self.freedoms) if near.any() else 1.0
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
        return Normal.of_covariance(rows @ rows.T, sizes)

    @staticmethod
    def of_covariance(covariance: Array, sizes: Array) -> Normal:
        """From what the draws do together: covariance (2 k, 2 k) of the rows."""
        scale = np.maximum(sizes, LEAST_SIZE)
        each = np.repeat(scale, 2)
        return Normal(_reduced(covariance / np.outer(each, each)), scale)

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
    middle = centre.T / np.repeat(normal.scale, 2)[:, None]
    sizes = radii.T / normal.scale[:, None]
    return scaled_chords(normal, middle, sizes, along, None if periods is None else periods / normal.scale)


def scaled_chords(
    normal: Normal, middle: Array, radii: Array, along: Array, periods: Array | None = None
) -> Chords:
    """The same for a middle (2 k, n), radii (k, n) and periods (k,) in units of the discs' sizes: disc by
    disc, its directions side by side in memory. The middle is used up.
    """
    for i, p in enumerate(() if periods is None else periods):
        if p > 0:
            middle[2 * i] -= p * np.round(middle[2 * i] / p)
    near, far = _kernel.chords(normal.rows, along.T, middle, radii, most=_FAR)
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
    # Direction by direction to the reader, coordinate by coordinate in memory: so it is gone through.
    out = np.asfortranarray(out)
    out.flags.writeable = False
    return out


def _reduced(covariance: Array) -> Array:
    """(m, f) of normal draws with a covariance (m, m), f even and as small as can be."""
    variances, axes = np.linalg.eigh(covariance)
    kept = variances > 1e-12 * max(float(variances[-1]), 1e-300)
    spread = axes[:, kept] * np.sqrt(variances[kept])
    missing = spread.shape[1] % 2 if spread.shape[1] else 2
    return np.hstack([spread[:, ::-1], np.zeros((len(spread), missing))])


def _beyond(distance: Array, freedoms: int) -> Array:
    """P(chi with an even number of freedoms > distance) = exp(-h) sum of h^j/j!, h = distance^2/2."""
    h = 0.5 * distance * distance
    total = np.ones_like(h)
    for j in range(freedoms // 2 - 1, 0, -1):
        total *= h
        total *= 1.0 / j
        total += 1.0
    return np.asarray(np.exp(-h) * total)
