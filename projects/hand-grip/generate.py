"""Draws the meshes of hand-grip, for development only; its output is committed.

    python projects/hand-grip/generate.py

Lengths in mm, each part in its own frame (see product.yaml and cell.yaml). Sizes are nominal: tolerances live
in the files, never in a mesh.
"""

from __future__ import annotations

import sys
from pathlib import Path

from manifold3d import Manifold

sys.path.insert(0, str(Path(__file__).parents[1]))
from drawing import bore, box, pointed, write_all

PINS = ((-20.0, -9.0), (20.0, 9.0))


def handle() -> Manifold:
    """64 x 34 x 80; on top a bore of 12, 20 deep, and two of 5, 9 deep."""
    solid = box((64, 34, 80), (0, 0, 40)) - bore(12, 80, 20, 0.8)
    for x, y in PINS:
        solid -= bore(5, 80, 9, 0.5).translate((x, y, 0))
    return solid


def plunger() -> Manifold:
    """12 x 40, both ends with a 0.8 chamfer."""
    half = pointed(12, -0.5, 20, 0.8)
    return half + half.rotate((180, 0, 0))


def pin() -> Manifold:
    """5 x 12, both ends with a 0.5 chamfer."""
    half = pointed(5, -0.5, 6, 0.5)
    return half + half.rotate((180, 0, 0))


def cap() -> Manifold:
    """60 x 30 x 6 with the pins' holes (chamfer below) and room for the plunger, 16 across."""
    solid = box((60, 30, 6), (0, 0, 3)) - bore(16, 6, 7)
    for x, y in PINS:
        solid -= bore(5, 0, 7, 0.5).rotate((180, 0, 0)).translate((x, y, 0))
    return solid


def rack() -> Manifold:
    """A pillar on which the handle stands between two stops, high enough for a hand from the side."""
    solid = box((90, 90, 8), (0, 0, 4)) + box((50, 24, 80), (0, 0, 40))
    for side in (-1.0, 1.0):
        solid += box((4, 16, 92), (side * (32.1 + 2), 0, 46))
    return solid


def tray() -> Manifold:
    """A block in which the plunger and two pins stand upright, and two risers with lips under the cap."""
    solid = box((90, 240, 10), (0, 0, 5)) + box((90, 100, 30), (0, -60, 15))
    solid -= bore(12.3, 30, 14).translate((0, -90, 0))
    for x in (-22.0, 22.0):
        solid -= bore(5.3, 30, 5).translate((x, -40, 0))
    for side in (-1.0, 1.0):
        solid += box((8, 20, 25), (side * 24, 70, 12.5))
        solid += box((4, 12, 29), (side * (30.3 + 2), 70, 14.5))
    return solid


def main() -> None:
    """Write every mesh beside this file."""
    draws = (handle, plunger, pin, cap, rack, tray)
    write_all(Path(__file__).parent / "meshes", {draw.__name__: draw() for draw in draws})


if __name__ == "__main__":
    main()
