"""From what is seen at each pixel to a picture: flat tones, and a line wherever a body or an edge ends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handfast.page.depth_buffer import Seen, look
from handfast.page.viewpoint import Viewpoint
from handfast.spatial.se3 import Array

# From the upper left, over the viewer's shoulder: how drawings are lit by custom.
LIGHT = np.array([-0.35, -0.45, 0.82]) / np.linalg.norm([-0.35, -0.45, 0.82])
LINE = np.array([0.10, 0.13, 0.16])
CREASE_COS = float(np.cos(np.deg2rad(24)))
SHADOW = 0.55


@dataclass(frozen=True, eq=False, slots=True)
class Drawn:
    """One body of a picture: corners (m, 3, 3) [m] in the world, colour 0..1.

    A sheet is drawn faint, so that light and dark paper show through; plain bodies take no shadow.
    """

    corners: Array
    colour: tuple[float, float, float]
    sheet: bool = False
    plain: bool = False


def draw(view: Viewpoint, bodies: list[Drawn]) -> NDArray[np.uint8]:
    """RGBA (height, width, 4), background clear; half the viewpoint's pixels, averaged for smooth edges."""
    seen = look(view, [b.corners for b in bodies])
    base = np.array([*(b.colour for b in bodies), (0.0, 0.0, 0.0)])[seen.body]
    shadow = _shadow(view, seen, bodies)
    lit = np.clip(seen.normal @ LIGHT, 0.0, 1.0) * (1 - SHADOW * shadow)
    sheet = np.array([*(b.sheet for b in bodies), False])[seen.body]
    alpha = np.where(sheet, 0.13 + 0.14 * shadow, 1.0) * (seen.body >= 0)
    edge = _edges(view, seen)
    rgb = np.where(edge[..., None], LINE, np.clip(base * (0.60 + 0.44 * lit)[..., None], 0, 1))
    return _half(rgb, np.where(edge, 0.92, alpha))


def _edges(view: Viewpoint, seen: Seen) -> NDArray[np.bool_]:
    """Where a neighbour to the right or below is another body, another face, or lies well behind."""
    edge = np.zeros(seen.body.shape, dtype=bool)
    pixel = view.width / view.pixels[0]
    for axis in (0, 1):
        here, there = _pair(seen.body, axis)
        near, far = _pair(np.where(np.isinf(seen.nearness), -1e3, seen.nearness), axis)
        n_here, n_there = _pair(seen.normal, axis)
        slope = np.abs(view.axes[2] @ np.moveaxis(n_here, -1, 0).reshape(3, -1)).reshape(here.shape)
        jump = np.abs(near - far) > 0.004 + 4 * pixel / np.maximum(slope, 0.08)
        crease = (np.einsum("...i,...i", n_here, n_there) < CREASE_COS) & (here == there)
        line = (here != there) | ((jump | crease) & (here >= 0))
        _pair(edge, axis)[0][line] = True
    return edge


def _pair(image: NDArray[Any], axis: int) -> tuple[NDArray[Any], NDArray[Any]]:
    """An image and its neighbours one pixel on, as views of the same size."""
    return (image[:-1], image[1:]) if axis == 0 else (image[:, :-1], image[:, 1:])


def _shadow(view: Viewpoint, seen: Seen, bodies: list[Drawn]) -> Array:
    """How much of the light other bodies keep off each pixel, 0..1; looked up at every second pixel."""
    size = view.pixels[0]
    at_light = Viewpoint(
        view.centre,
        float(np.arctan2(-LIGHT[0], -LIGHT[1])),
        float(np.arcsin(LIGHT[2])),
        2.2 * view.width,
        (size, size),
    )
    cast = look(at_light, [b.corners for b in bodies if not b.sheet]).nearness
    takes = np.array([*(not b.plain for b in bodies), False])[seen.body[::2, ::2]]
    rows, columns = np.nonzero(takes)
    picture = np.stack([2 * columns + 0.5, 2 * rows + 0.5, seen.nearness[::2, ::2][takes]], axis=-1)
    at = at_light.project(view.unproject(picture))
    covered = np.zeros(len(at))
    for dx, dy in ((-1, -1), (1, -1), (-1, 1), (1, 1)):
        x, y = (np.clip(at[:, i] + d, 0, size - 1).astype(int) for i, d in ((0, dx), (1, dy)))
        covered += cast[y, x] > at[:, 2] + 4 * at_light.width / size
    shadow = np.zeros(takes.shape)
    shadow[takes] = covered / 4
    height, width = seen.body.shape
    return shadow.repeat(2, axis=0).repeat(2, axis=1)[:height, :width]


def _half(rgb: Array, alpha: Array) -> NDArray[np.uint8]:
    """Average two by two pixels, weighted by how much they cover."""
    height, width = alpha.shape[0] // 2, alpha.shape[1] // 2
    a = alpha[: 2 * height, : 2 * width].reshape(height, 2, width, 2)
    c = rgb[: 2 * height, : 2 * width].reshape(height, 2, width, 2, 3)
    cover = a.mean(axis=(1, 3))
    mixed = (c * a[..., None]).mean(axis=(1, 3)) / np.maximum(cover, 1e-6)[..., None]
    return np.asarray(np.round(255 * np.concatenate([mixed, cover[..., None]], axis=-1)), dtype=np.uint8)
