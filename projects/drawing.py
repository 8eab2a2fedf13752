"""Solids and files that the example projects' generate.py draw with, for development only.

Lengths in mm. A circle is drawn as a regular polygon; a hole is circumscribed (its faces touch the circle
from outside) and a shaft inscribed, so that a shaft in its hole never overlaps for the sake of the drawing.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from manifold3d import Manifold

SEGMENTS = 48
AROUND = 1.0 / math.cos(math.pi / SEGMENTS)
"""Radius of the polygon's corners over the radius of the circle that it encloses."""
OVER = 1.0
"""A cut starts this far outside the material, so that no two faces coincide."""


def box(size: tuple[float, float, float], middle: tuple[float, float, float]) -> Manifold:
    """A block of the given edges, standing on its middle."""
    return Manifold.cube(size, True).translate(middle)


def shaft(diameter: float, low: float, high: float) -> Manifold:
    """Round material along z from low to high."""
    return Manifold.cylinder(high - low, diameter / 2, diameter / 2, SEGMENTS).translate((0, 0, low))


def pointed(diameter: float, low: float, high: float, chamfer: float) -> Manifold:
    """A shaft whose upper end has a 45 degree chamfer."""
    tip = Manifold.cylinder(chamfer, diameter / 2, diameter / 2 - chamfer, SEGMENTS)
    return shaft(diameter, low, high - chamfer) + tip.translate((0, 0, high - chamfer))


def bore(diameter: float, mouth: float, depth: float, chamfer: float = 0.0) -> Manifold:
    """What a hole takes away: down from z = mouth, with a 45 degree chamfer of that radial width."""
    wide = AROUND * diameter / 2
    cut = Manifold.cylinder(depth + OVER, wide, wide, SEGMENTS).translate((0, 0, mouth - depth))
    if chamfer > 0:
        # Carried on past the mouth, so that the mouth has exactly the chamfer's width.
        flare = Manifold.cylinder(chamfer + OVER, wide, wide + AROUND * (chamfer + OVER), SEGMENTS)
        cut += flare.translate((0, 0, mouth - chamfer))
    return cut


def screw() -> Manifold:
    """M4 x 12 after ISO 4762: head 7 x 4, hexagon socket 3 across flats and 2 deep, no thread drawn (3.9 is
    about the middle of the major diameter in class 6g, from memory of ISO 965)."""
    hexagon = Manifold.cylinder(2 + OVER, 3 / math.sqrt(3), 3 / math.sqrt(3), 6).translate((0, 0, 2))
    return shaft(3.9, -12, 0.5) + shaft(7, 0, 4) - hexagon


def stand() -> Manifold:
    """A plate on two legs; the driver's nose hangs in its hole, two rails keep its collar straight."""
    body = box((90, 60, 8), (0, 0, 79)) - bore(16.4, 83, 8 + OVER)
    for side in (-1.0, 1.0):
        body += box((8, 60, 76), (side * 41, 0, 38))
        body += box((24, 4, 9), (0, side * (17.2 + 2), 86.5))
    return body


def write_stl(path: Path, solid: Manifold) -> None:
    """Binary STL; the same solid gives the same bytes."""
    mesh = solid.to_mesh()
    corners = np.asarray(mesh.vert_properties, dtype=np.float32)[:, :3][np.asarray(mesh.tri_verts)]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    record = np.zeros(
        len(corners), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")]
    )
    record["normal"] = across / np.linalg.norm(across, axis=1, keepdims=True)
    record["corners"] = corners
    head = f"{path.stem}, millimetres".encode().ljust(80, b" ")
    path.write_bytes(head + np.uint32(len(record)).tobytes() + record.tobytes())


def write_all(folder: Path, solids: dict[str, Manifold]) -> None:
    """One mesh for each solid."""
    folder.mkdir(exist_ok=True)
    for name, solid in solids.items():
        write_stl(folder / f"{name}.stl", solid)
