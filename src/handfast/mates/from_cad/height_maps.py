"""What is seen of each part along a direction: how low and how high it reaches at each point of a grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast.geometry.cad.around import across
from handfast.spatial.se3 import Array

_OFF = 0.31234
"""By which the grid stands off the corner of all that is seen [pixels]: rays miss the round numbers of
drawings."""


@dataclass(frozen=True, eq=False, slots=True)
class HeightMaps:
    """low, high (parts, n, n) [m] along the direction: where a part is not, +inf and -inf."""

    low: Array
    high: Array


def height_maps(bodies: list[Array], direction: Array, pixels: int) -> HeightMaps:
    """bodies: triangles (m, 3, 3) [m] each; direction: unit. The grid spans them all."""
    x, y = across(direction)
    flat = [np.stack([b @ x, b @ y, b @ direction], axis=-1) for b in bodies]
    every = np.concatenate([f.reshape(-1, 3) for f in flat])
    start = every[:, :2].min(axis=0)
    step = float((every[:, :2].max(axis=0) - start).max()) / (pixels - 2)
    low = np.full((len(bodies), pixels * pixels), np.inf)
    high = np.full((len(bodies), pixels * pixels), -np.inf)
    for k, body in enumerate(flat):
        body[..., :2] = (body[..., :2] - start) / step + _OFF
        _fill(body, pixels, low[k], high[k])
    shape = (len(bodies), pixels, pixels)
    return HeightMaps(low.reshape(shape), high.reshape(shape))


def _fill(t: Array, pixels: int, low: Array, high: Array) -> None:
    """Row by row: where each triangle begins and ends in it, then every pixel between."""
    (ax, ay), (bx, by) = ((t[:, k, :2] - t[:, 0, :2]).T for k in (1, 2))
    t = t[np.abs(ax * by - bx * ay) > 1e-9]
    first, last = np.ceil(t[..., 1].min(axis=1)), np.floor(t[..., 1].max(axis=1))
    of, row = _runs(first, last)
    left, right = _crossed(t[of], row)
    which, column = _runs(np.ceil(left), np.floor(right))
    t, row = t[of[which]], row[which]
    at: NDArray[np.int64] = (row * pixels + column).astype(np.int64)
    z = _height(t, column, row)
    np.minimum.at(low, at, z)
    np.maximum.at(high, at, z)


def _runs(first: Array, last: Array) -> tuple[NDArray[np.int64], Array]:
    """All whole numbers from each first to its last: which one they belong to, and themselves."""
    count = np.maximum(last - first + 1, 0).astype(np.int64)
    of = np.repeat(np.arange(len(first)), count)
    inside = np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count)
    return of, first[of] + inside


def _crossed(t: Array, row: Array) -> tuple[Array, Array]:
    """Where the row enters and leaves each triangle."""
    left, right = np.full(len(row), np.inf), np.full(len(row), -np.inf)
    for i in range(3):
        a, b = t[:, i], t[:, (i + 1) % 3]
        rise = b[:, 1] - a[:, 1]
        met = ((a[:, 1] - row) * (b[:, 1] - row) <= 0) & (np.abs(rise) > 1e-12)
        x = a[:, 0] + (row - a[:, 1]) * (b[:, 0] - a[:, 0]) / np.where(met, rise, 1.0)
        left = np.where(met, np.minimum(left, x), left)
        right = np.where(met, np.maximum(right, x), right)
    return np.where(np.isfinite(left), left, 0.0), np.where(np.isfinite(left), right, -1.0)


def _height(t: Array, x: Array, y: Array) -> Array:
    (x0, y0, z0), (x1, y1, z1), (x2, y2, z2) = (tuple(t[:, i, k] for k in range(3)) for i in range(3))
    area = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)
    b = ((x - x0) * (y2 - y0) - (x2 - x0) * (y - y0)) / area
    c = ((x1 - x0) * (y - y0) - (x - x0) * (y1 - y0)) / area
    return np.asarray(z0 + b * (z1 - z0) + c * (z2 - z0))
