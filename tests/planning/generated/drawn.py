"""Small parts drawn with manifold3d: lengths in mm, each in its own frame, z up.

A circle is a regular polygon: a hole circumscribed, a shaft inscribed, so that a shaft in its hole never
overlaps for the sake of the drawing alone.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from manifold3d import Manifold

_SEGMENTS = 24
_AROUND = 1.0 / math.cos(math.pi / _SEGMENTS)


def box(size: tuple[float, float, float], low: float = 0.0) -> Manifold:
    """A block over the origin that stands on z = low."""
    return Manifold.cube(size, True).translate((0, 0, low + size[2] / 2))


def shaft(diameter: float, low: float, high: float) -> Manifold:
    """Round material along z."""
    return Manifold.cylinder(high - low, diameter / 2, diameter / 2, _SEGMENTS).translate((0, 0, low))


def bore(diameter: float, mouth: float, depth: float) -> Manifold:
    """What a hole takes away: down from its mouth at that height, and a little above it."""
    return shaft(_AROUND * diameter, mouth - depth, mouth + 1.0)


def write_stl(path: Path, solid: Manifold) -> None:
    """Binary STL."""
    mesh = solid.to_mesh()
    corners = np.asarray(mesh.vert_properties, dtype=np.float32)[:, :3][np.asarray(mesh.tri_verts)]
    record = np.zeros(len(corners), [("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
    record["corners"] = corners
    path.write_bytes(bytes(80) + np.uint32(len(corners)).tobytes() + record.tobytes())


def volume(solid: Manifold) -> float:
    """Volume [mm3]."""
    return float(solid.volume())
