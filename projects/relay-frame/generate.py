"""Draws the meshes of relay-frame, for development only; its output is committed.

    python projects/relay-frame/generate.py

Lengths in mm, each part in its own frame (see product.yaml and cell.yaml). Sizes are nominal: tolerances live
in the files, never in a mesh.
"""

from __future__ import annotations

import sys
from pathlib import Path

from manifold3d import Manifold

sys.path.insert(0, str(Path(__file__).parents[1]))
from drawing import bore, box, pointed, screw, stand, write_all

THICK = 24.0  # of the frame
PINS = ((-15.0, -10.0), (15.0, 10.0))
SCREWS = ((15.0, -10.0), (-15.0, 10.0))
"""The same on either side, as one looks at it with the long side across."""


def frame() -> Manifold:
    """90 x 50 x 24 with two pin bores and two M4 holes on either side; the under side is the upper one turned
    about x."""
    solid = box((90, 50, THICK), (0, 0, THICK / 2))
    side = Manifold()
    for x, y in PINS:
        side += bore(5, THICK, 9, 0.5).translate((x, y, 0))
    for x, y in SCREWS:
        side += bore(3.3, THICK, 9, (4 + 2 * 0.4 - 3.3) / 2).translate((x, y, 0))
    return solid - side - side.translate((0, 0, -THICK)).rotate((180, 0, 0))


def pin() -> Manifold:
    """5 x 12, both ends with a 0.5 chamfer."""
    half = pointed(5, -0.5, 6, 0.5)
    return half + half.rotate((180, 0, 0))


def cover() -> Manifold:
    """46 x 36 x 6 with the pins' holes (chamfer below) and the screws' clearance holes."""
    solid = box((46, 36, 6), (0, 0, 3))
    for x, y in PINS:
        solid -= bore(5, 0, 7, 0.5).rotate((180, 0, 0)).translate((x, y, 0))
    for x, y in SCREWS:
        solid -= bore(4.5, 6, 7).translate((x, y, 0))
    return solid


def nest() -> Manifold:
    """A block with two pairs of rails, side by side: the frame lies on its ends, whatever stands out of its
    lower side hangs free between the rails. One stop at each end of each pair."""
    solid = box((120, 190, 80), (0, 0, 40))
    for y in (-50.0, 50.0):
        for side in (-1.0, 1.0):
            solid += box((14, 36, 20), (side * 36, y, 90))
            solid += box((6, 20, 26), (side * (45.1 + 3), y, 93))
    return solid


def cover_tray() -> Manifold:
    """Two risers under each of two covers; lips at the ends, the long sides free for the fingers."""
    solid = box((90, 140, 10), (0, 0, 5))
    for y in (-35.0, 35.0):
        for side in (-1.0, 1.0):
            solid += box((8, 24, 25), (side * 19, y, 12.5))
            solid += box((4, 12, 29), (side * (23.3 + 2), y, 14.5))
    return solid


def pin_block() -> Manifold:
    """A block in which four pins stand upright in bores of 5.3, 5 deep."""
    solid = box((90, 90, 30), (0, 0, 15))
    for x in (-22.0, 22.0):
        for y in (-22.0, 22.0):
            solid -= bore(5.3, 30, 5, 0).translate((x, y, 0))
    return solid


def presenter() -> Manifold:
    """A block that carries four screws upright by their heads, 0.2 all round the 3.9 shank."""
    solid = box((60, 60, 30), (0, 0, 15))
    for x in (-12.0, 12.0):
        for y in (-12.0, 12.0):
            solid -= bore(4.3, 30, 14).translate((x, y, 0))
    return solid


def main() -> None:
    """Write every mesh beside this file."""
    draws = (frame, pin, cover, screw, nest, cover_tray, pin_block, presenter, stand)
    write_all(Path(__file__).parent / "meshes", {draw.__name__: draw() for draw in draws})


if __name__ == "__main__":
    main()
