"""A drawn part with its faces coloured by what was found: from above and from below, as one PNG."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.page.line_drawing import Drawn, draw
from handfast.page.png import png
from handfast.page.viewpoint import Viewpoint
from handfast.spatial.se3 import Array

Colour = tuple[float, float, float]
COLOURS: dict[str, tuple[Colour, str]] = {
    "hole": ((0.25, 0.47, 0.78), "blue"),
    "thread": ((0.50, 0.32, 0.70), "violet"),
    "shaft": ((0.90, 0.58, 0.22), "orange"),
    "slot": ((0.25, 0.63, 0.42), "green"),
    "groove": ((0.16, 0.62, 0.66), "teal"),
    "gear": ((0.78, 0.30, 0.27), "red"),
    "ring": ((0.86, 0.45, 0.62), "pink"),
    "face": ((0.80, 0.81, 0.83), "light grey"),
    "": ((0.45, 0.42, 0.30), "brown"),
}
"""By kind of feature: its colour and the word for it; "": a face that is no feature."""
_PIXELS = (900, 900)
_MARGIN = 1.15


@dataclass(frozen=True, eq=False, slots=True)
class Coloured:
    """Triangles (m, 3, 3) [m], outward, and the kind of feature they belong to."""

    corners: Array
    kind: str


def feature_picture(faces: list[Coloured]) -> bytes:
    """The PNG: on the left seen from above, on the right from below."""
    kinds = sorted({f.kind for f in faces})
    bodies = [
        Drawn(np.concatenate([f.corners for f in faces if f.kind == kind]), COLOURS[kind][0])
        for kind in kinds
    ]
    views = [_view(bodies, elevation) for elevation in (np.deg2rad(35), np.deg2rad(-35))]
    return png(np.concatenate([draw(view, bodies) for view in views], axis=1))


def _view(bodies: list[Drawn], elevation: float) -> Viewpoint:
    view = Viewpoint((0.0, 0.0, 0.0), np.deg2rad(25), float(elevation), 1.0, _PIXELS)
    local = np.concatenate([b.corners.reshape(-1, 3) for b in bodies]) @ view.axes.T
    low, high = local.min(axis=0), local.max(axis=0)
    x, y, z = (float(v) for v in ((low + high) / 2) @ view.axes)
    width = _MARGIN * float(max(high[0] - low[0], high[1] - low[1]))
    return Viewpoint((x, y, z), view.azimuth, view.elevation, width, _PIXELS)
