"""A parallel projection of the world onto a picture, as drawings use it: lengths compare."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.spatial.se3 import Array


@dataclass(frozen=True, slots=True)
class Viewpoint:
    """centre: world point in the middle of the picture [m]; azimuth: the way one looks, from +y towards +x
    [rad]; elevation: how far from above [rad]; width: of what is seen [m]; pixels: width and height."""

    centre: tuple[float, float, float]
    azimuth: float
    elevation: float
    width: float
    pixels: tuple[int, int]

    @property
    def axes(self) -> Array:
        """Rows: right, up and towards the viewer, unit vectors in the world (3, 3)."""
        ca, sa = np.cos(self.azimuth), np.sin(self.azimuth)
        ce, se = np.cos(self.elevation), np.sin(self.elevation)
        ahead = np.array([sa * ce, ca * ce, -se])
        right = np.array([ca, -sa, 0.0])
        return np.stack([right, np.cross(right, ahead), -ahead])

    def project(self, points: Array) -> Array:
        """World points (..., 3) [m] -> (..., 3): column, row [pixels], nearness to the viewer [m]."""
        local = (np.asarray(points) - np.array(self.centre)) @ self.axes.T
        scale = self.pixels[0] / self.width
        return np.stack(
            [
                self.pixels[0] / 2 + local[..., 0] * scale,
                self.pixels[1] / 2 - local[..., 1] * scale,
                local[..., 2],
            ],
            axis=-1,
        )

    def unproject(self, picture: Array) -> Array:
        """The inverse of project (..., 3)."""
        scale = self.pixels[0] / self.width
        picture = np.asarray(picture)
        local = np.stack(
            [
                (picture[..., 0] - self.pixels[0] / 2) / scale,
                (self.pixels[1] / 2 - picture[..., 1]) / scale,
                picture[..., 2],
            ],
            axis=-1,
        )
        return np.asarray(local @ self.axes + np.array(self.centre))
