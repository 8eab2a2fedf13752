"""What is seen of each part along a direction: how low and how high it reaches at each point of a grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast.geometry.cad.around import across
from handfast.spatial.se3 import Array

_SQUARES = (4, 16, 64, 512)
_TOGETHER = 1_500_000


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
    step = float((every[:, :2].max(axis=0) - start).max()) / (pixels - 1)
    low = np.full((len(bodies), pixels * pixels), np.inf)
    high = np.full((len(bodies), pixels * pixels), -np.inf)
    for k, body in enumerate(flat):
        # Rays stand off the round numbers that drawings love.
        body[..., :2] = (body[..., :2] - start) / step + 0.31234
        _fill(body, pixels, low[k], high[k])
    shape = (len(bodies), pixels, pixels)
    return HeightMaps(low.reshape(shape), high.reshape(shape))


def _fill(body: Array, pixels: int, low: Array, high: Array) -> None:
    box = np.floor(body[..., :2])
    extent = (box.max(axis=1) - box.min(axis=1)).max(axis=1) + 1
    smallest = 0.0
    for square in _SQUARES:
        members = np.flatnonzero((extent > smallest) & (extent <= square))
        step = max(1, _TOGETHER // square**2)
        for i in range(0, len(members), step):
            _draw(body[members[i : i + step]], square, pixels, low, high)
        smallest = square


def _draw(t: Array, square: int, pixels: int, low: Array, high: Array) -> None:
    first = np.floor(t[..., :2].min(axis=1))
    reach = np.arange(square + 1)
    px = first[:, 0, None, None] + reach[None, None, :]
    py = first[:, 1, None, None] + reach[None, :, None]
    (x0, y0, z0), (x1, y1, z1), (x2, y2, z2) = (
        tuple(t[:, i, k][:, None, None] for k in range(3)) for i in range(3)
    )
    area = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)
    area = np.where(np.abs(area) < 1e-9, np.inf, area)
    b = ((px - x0) * (y2 - y0) - (x2 - x0) * (py - y0)) / area
    c = ((x1 - x0) * (py - y0) - (px - x0) * (y1 - y0)) / area
    hit = (b >= 0) & (c >= 0) & (b + c <= 1) & np.isfinite(area)
    hit &= (px >= 0) & (px < pixels) & (py >= 0) & (py < pixels)
    z = (z0 + b * (z1 - z0) + c * (z2 - z0))[hit]
    at: NDArray[np.int64] = (py * pixels + px)[hit].astype(np.int64)
    np.minimum.at(low, at, z)
    np.maximum.at(high, at, z)
