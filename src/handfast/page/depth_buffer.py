"""What is seen at each pixel: the nearest triangle, by a depth buffer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast.page.viewpoint import Viewpoint
from handfast.spatial.se3 import Array

# Triangles are drawn together by the square of pixels that they fit in; larger ones one at a time.
SQUARES = (4, 12, 40)
TOGETHER = 2_000_000  # pixels looked at in one go


@dataclass(frozen=True, eq=False, slots=True)
class Seen:
    """Per pixel (height, width): nearness to the viewer [m] (-inf: nothing), index of the body (-1: nothing),
    and the outward unit normal in the world (height, width, 3)."""

    nearness: NDArray[np.float64]
    body: NDArray[np.int64]
    normal: Array


def look(view: Viewpoint, bodies: list[Array]) -> Seen:
    """Draw bodies, each (m, 3, 3) [m] in the world; faces that look away are left out."""
    width, height = view.pixels
    corners = np.concatenate([np.zeros((0, 3, 3)), *bodies])
    owner = np.repeat(np.arange(len(bodies)), [len(b) for b in bodies])
    normals = _normals(corners)
    flat = view.project(corners)
    drawn = np.flatnonzero((normals @ view.axes[2] > 1e-6) & _inside(flat, width, height))
    nearness = np.full(height * width, -np.inf)
    nearest = np.full(height * width, -1)
    for index, square in _by_size(flat, drawn):
        _fill(flat, index, square, (width, height), nearness, nearest)
    hit = nearest >= 0
    body = np.where(hit, np.append(owner, -1)[nearest], -1)
    normal = np.where(hit[:, None], np.append(normals, np.zeros((1, 3)), axis=0)[nearest], 0.0)
    shape = (height, width)
    return Seen(nearness.reshape(shape), body.reshape(shape), normal.reshape(*shape, 3))


def _normals(corners: Array) -> Array:
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(cross, axis=1, keepdims=True)
    return np.asarray(cross / np.where(length < 1e-18, 1.0, length))


def _inside(flat: Array, width: int, height: int) -> NDArray[np.bool_]:
    """Triangles of which something may lie in the picture."""
    low, high = flat[..., :2].min(axis=1), flat[..., :2].max(axis=1)
    return np.asarray((high >= 0).all(axis=1) & (low[:, 0] < width) & (low[:, 1] < height))


def _by_size(flat: Array, drawn: NDArray[np.int64]) -> list[tuple[NDArray[np.int64], int]]:
    """Groups of triangles, with the edge of the square of pixels to look at for each [pixels]."""
    box = np.floor(flat[drawn, :, :2])
    extent = (box.max(axis=1) - box.min(axis=1)).max(axis=1) + 1
    groups: list[tuple[NDArray[np.int64], int]] = []
    smallest = 0
    for square in SQUARES:
        members = drawn[(extent > smallest) & (extent <= square)]
        step = max(1, TOGETHER // square**2)
        groups += [(members[i : i + step], square) for i in range(0, len(members), step)]
        smallest = square
    large = np.flatnonzero(extent > smallest)
    return groups + [(drawn[i : i + 1], int(extent[i])) for i in large]


def _fill(
    flat: Array,
    index: NDArray[np.int64],
    square: int,
    pixels: tuple[int, int],
    nearness: NDArray[np.float64],
    nearest: NDArray[np.int64],
) -> None:
    """Pixels whose centre lies in one of these triangles and which it is nearest at."""
    width, height = pixels
    p = flat[index][..., None, None]  # (m, 3 corners, 3, 1, 1)
    first = np.floor(flat[index, :, :2].min(axis=1))
    reach = np.arange(square)
    left, right = (0, square) if square <= SQUARES[-1] else _cut(first[0, 0], square, width)
    top, bottom = (0, square) if square <= SQUARES[-1] else _cut(first[0, 1], square, height)
    column = first[:, 0, None, None] + reach[None, None, left:right]
    row = first[:, 1, None, None] + reach[None, top:bottom, None]
    x, y = column + 0.5, row + 0.5
    (x0, y0, z0), (x1, y1, z1), (x2, y2, z2) = ((p[:, i, 0], p[:, i, 1], p[:, i, 2]) for i in range(3))
    area = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)
    area = np.where(np.abs(area) < 1e-12, np.inf, area)
    b = ((x - x0) * (y2 - y0) - (x2 - x0) * (y - y0)) / area
    c = ((x1 - x0) * (y - y0) - (x - x0) * (y1 - y0)) / area
    z = z0 + b * (z1 - z0) + c * (z2 - z0)
    hit = (b >= 0) & (c >= 0) & (b + c <= 1) & np.isfinite(area)
    hit &= (column >= 0) & (column < width) & (row >= 0) & (row < height)
    at = (row * width + column)[hit].astype(np.int64)
    who = np.broadcast_to(index[:, None, None], hit.shape)[hit]
    _keep_nearest(at, z[hit], who, nearness, nearest)


def _cut(first: float, square: int, limit: int) -> tuple[int, int]:
    """The stretch of a large square that lies in the picture."""
    return max(0, int(-first)), max(0, min(square, int(limit - first)))


def _keep_nearest(
    at: NDArray[np.int64],
    z: Array,
    who: NDArray[np.int64],
    nearness: NDArray[np.float64],
    nearest: NDArray[np.int64],
) -> None:
    np.maximum.at(nearness, at, z)
    won = z >= nearness[at]
    nearest[at[won]] = who[won]
