"""Draws hand-grip, for development only; its output is committed.

    python projects/hand-grip/generate.py

It writes meshes/*.stl for planning and trials and assembly.step (parts at home) for reading back. Lengths
in mm, each part in its own frame (see product.yaml and cell.yaml). Sizes are nominal: tolerances live in the
files, never in a drawing.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
from drawing import Group, Solid, Use, bore, box, pointed, write_all, write_step

PINS = ((-20.0, -9.0), (20.0, 9.0))


def handle() -> Solid:
    """64 x 34 x 80; on top a bore of 12, 20 deep, and two of 5, 9 deep."""
    solid = box((64, 34, 80), (0, 0, 40)) - bore(12, 80, 20, 0.8)
    for x, y in PINS:
        solid -= bore(5, 80, 9, 0.5).translate((x, y, 0))
    return solid


def plunger() -> Solid:
    """12 x 40, both ends with a 0.8 chamfer."""
    half = pointed(12, -0.5, 20, 0.8)
    return half + half.rotate((180, 0, 0))


def pin() -> Solid:
    """5 x 12, both ends with a 0.5 chamfer."""
    half = pointed(5, -0.5, 6, 0.5)
    return half + half.rotate((180, 0, 0))


def cap() -> Solid:
    """60 x 30 x 6 with the pins' holes (chamfer below) and room for the plunger, 16 across."""
    solid = box((60, 30, 6), (0, 0, 3)) - bore(16, 6, 7)
    for x, y in PINS:
        solid -= bore(5, 0, 7, 0.5).rotate((180, 0, 0)).translate((x, y, 0))
    return solid


def rack() -> Solid:
    """A pillar on which the handle stands between two stops, high enough for a hand from the side."""
    solid = box((90, 90, 8), (0, 0, 4)) + box((50, 24, 80), (0, 0, 40))
    for side in (-1.0, 1.0):
        solid += box((4, 16, 92), (side * (32.1 + 2), 0, 46))
    return solid


def tray() -> Solid:
    """A block in which the plunger and two pins stand upright, and two risers with lips under the cap."""
    solid = box((90, 240, 10), (0, 0, 5)) + box((90, 100, 30), (0, -60, 15))
    solid -= bore(12.3, 30, 14).translate((0, -90, 0))
    for x in (-22.0, 22.0):
        solid -= bore(5.3, 30, 5).translate((x, -40, 0))
    for side in (-1.0, 1.0):
        solid += box((8, 20, 25), (side * 24, 70, 12.5))
        solid += box((4, 12, 29), (side * (30.3 + 2), 70, 14.5))
    return solid


HOME = Group(
    "hand-grip",
    (
        Use("handle", handle, (0, 0, 0)),
        Use("plunger", plunger, (0, 0, 82)),
        *(Use(f"pin_{k}", pin, (x, y, 80)) for k, (x, y) in enumerate(PINS, 1)),
        Use("cap", cap, (0, 0, 80)),
    ),
)


def main() -> None:
    """Write everything beside this file."""
    folder = Path(__file__).parent
    write_all(folder / "meshes", (handle, plunger, pin, cap, rack, tray))
    write_step(folder / "assembly.step", HOME)


if __name__ == "__main__":
    main()
