"""Draws the meshes of first-fit, for development only; its output is committed.

    python projects/first-fit/generate.py

Lengths in mm, each part in its own frame (see product.yaml and cell.yaml). Sizes are nominal: tolerances
live in the files, never in a mesh. A circle is drawn as a regular polygon; a hole is circumscribed (its
faces touch the circle from outside) and a shaft inscribed, so that a shaft in its hole never overlaps for
the sake of the drawing alone.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from manifold3d import Manifold

SEGMENTS = 96
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


def cone(low_diameter: float, high_diameter: float, low: float, high: float) -> Manifold:
    """Round material along z whose diameter changes from low to high."""
    return Manifold.cylinder(high - low, low_diameter / 2, high_diameter / 2, SEGMENTS).translate((0, 0, low))


def bore(diameter: float, mouth: float, depth: float, chamfer: float = 0.0) -> Manifold:
    """What a hole takes away: down from z = mouth, with a 45 degree chamfer of that radial width."""
    wide = AROUND * diameter
    cut = shaft(wide, mouth - depth, mouth + OVER)
    if chamfer > 0:
        # Carried on past the mouth, so that the mouth has exactly the chamfer's width.
        cut += cone(wide, wide + 2 * AROUND * (chamfer + OVER), mouth - chamfer, mouth + OVER)
    return cut


def block() -> Manifold:
    """100 x 50 x 30 with the bore 8 H7 (24 deep) and the M4 hole at its drill size 3.3 (12 deep).

    The M4 mouth is opened to the thread's 4 mm plus the chamfer's 0.4 all round.
    """
    body = box((100, 50, 30), (0, 0, 15))
    body -= bore(8, 30, 24, 0.5).translate((-28, 0, 0))
    return body - bore(3.3, 30, 12, (4 + 2 * 0.4 - 3.3) / 2).translate((38, 0, 0))


def pin() -> Manifold:
    """8 x 40, the top end with a 0.8 chamfer."""
    return shaft(8, -20, 19.2) + cone(8, 6.4, 19.2, 20)


def cover() -> Manifold:
    """96 x 46 x 6 with the pin's hole (chamfer below) and the screw's clearance hole."""
    body = box((96, 46, 6), (0, 0, 3))
    from_below = bore(8, 0, 6 + OVER, 0.5).rotate((180, 0, 0))
    body -= from_below.translate((-28, 0, 0))
    return body - bore(4.5, 6, 6 + OVER).translate((38, 0, 0))


def screw() -> Manifold:
    """M4 x 12 after ISO 4762: head 7 x 4, hexagon socket 3 across flats and 2 deep, no thread drawn.

    The shank is drawn at 3.9, about the middle of the major diameter in class 6g (3.838 to 3.978, from
    memory of ISO 965). So it overlaps the drill-size hole: the pair screws, and is known as a thread, not as
    a fit of cylinders.
    """
    hexagon = Manifold.cylinder(2 + OVER, 3 / math.sqrt(3), 3 / math.sqrt(3), 6).translate((0, 0, 2))
    return shaft(3.9, -12, 0.5) + shaft(7, 0, 4) - hexagon


def tray() -> Manifold:
    """A plate, a post whose pocket holds the pin upright (0.15 all round), and two risers under the cover.

    Four lips keep the cover within 0.3; they stand clear of the left half's sides, where fingers reach.
    """
    body = box((180, 220, 12), (0, 0, 6))
    body += box((26, 26, 30), (0, -70, 15)) - bore(8.3, 30, 18).translate((0, -70, 0))
    body -= bore(8.3, 30, 18).translate((0, -70, 0))
    for y in (8.0, 32.0):
        body += box((80, 10, 30), (0, y, 15))
    for side in (-1.0, 1.0):
        body += box((4, 16, 33), (side * (48.3 + 2), 20, 16.5))
        body += box((16, 4, 33), (30, 20 + side * (23.3 + 2), 16.5))
    return body


def presenter() -> Manifold:
    """A post that carries one screw upright by its head, 0.2 all round the 3.9 shank."""
    return box((60, 60, 10), (0, 0, 5)) + box((20, 20, 30), (0, 0, 15)) - bore(4.3, 30, 14)


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


def main() -> None:
    """Write every mesh beside this file."""
    folder = Path(__file__).parent / "meshes"
    folder.mkdir(exist_ok=True)
    for draw in (block, pin, cover, screw, tray, presenter, stand):
        write_stl(folder / f"{draw.__name__}.stl", draw())


if __name__ == "__main__":
    main()
