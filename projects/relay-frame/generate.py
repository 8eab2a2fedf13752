"""Draws relay-frame, for development only; its output is committed.

    python projects/relay-frame/generate.py

It writes meshes/*.stl for planning and trials and assembly.step (parts at home) for reading back. Lengths
in mm, each part in its own frame (see product.yaml and cell.yaml). Sizes are nominal: tolerances live in the
files, never in a drawing.
"""

from __future__ import annotations

import functools
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
from drawing import Group, Solid, Use, bore, box, pointed, screw, stand, write_all, write_step

THICK = 24.0  # of the frame
PINS = ((-15.0, -10.0), (15.0, 10.0))
SCREWS = ((15.0, -10.0), (-15.0, 10.0))
"""The same on either side, as one looks at it with the long side across."""


def frame() -> Solid:
    """90 x 50 x 24 with two pin bores and two M4 holes on either side; the under side is the upper one turned
    about x."""
    solid = box((90, 50, THICK), (0, 0, THICK / 2))
    holes = [bore(5, THICK, 9, 0.5).translate((x, y, 0)) for x, y in PINS]
    holes += [bore(3.3, THICK, 9, (4 + 2 * 0.4 - 3.3) / 2).translate((x, y, 0)) for x, y in SCREWS]
    side = functools.reduce(Solid.__add__, holes)
    return solid - side - side.translate((0, 0, -THICK)).rotate((180, 0, 0))


def pin() -> Solid:
    """5 x 12, both ends with a 0.5 chamfer."""
    half = pointed(5, -0.5, 6, 0.5)
    return half + half.rotate((180, 0, 0))


def cover() -> Solid:
    """46 x 36 x 6 with the pins' holes (chamfer below) and the screws' clearance holes."""
    solid = box((46, 36, 6), (0, 0, 3))
    for x, y in PINS:
        solid -= bore(5, 0, 7, 0.5).rotate((180, 0, 0)).translate((x, y, 0))
    for x, y in SCREWS:
        solid -= bore(4.5, 6, 7).translate((x, y, 0))
    return solid


def nest() -> Solid:
    """A block with two pairs of rails, side by side: the frame lies on its ends, whatever stands out of its
    lower side hangs free between the rails. One stop at each end of each pair."""
    solid = box((120, 190, 80), (0, 0, 40))
    for y in (-50.0, 50.0):
        for side in (-1.0, 1.0):
            solid += box((14, 36, 20), (side * 36, y, 90))
            solid += box((6, 20, 26), (side * (45.1 + 3), y, 93))
    return solid


def cover_tray() -> Solid:
    """Two risers under each of two covers; lips at the ends, the long sides free for the fingers."""
    solid = box((90, 140, 10), (0, 0, 5))
    for y in (-35.0, 35.0):
        for side in (-1.0, 1.0):
            solid += box((8, 24, 25), (side * 19, y, 12.5))
            solid += box((4, 12, 29), (side * (23.3 + 2), y, 14.5))
    return solid


def pin_block() -> Solid:
    """A block in which four pins stand upright in bores of 5.3, 5 deep."""
    solid = box((90, 90, 30), (0, 0, 15))
    for x in (-22.0, 22.0):
        for y in (-22.0, 22.0):
            solid -= bore(5.3, 30, 5, 0).translate((x, y, 0))
    return solid


def presenter() -> Solid:
    """A block that carries four screws upright by their heads, 0.2 all round the 3.9 shank."""
    solid = box((60, 60, 30), (0, 0, 15))
    for x in (-12.0, 12.0):
        for y in (-12.0, 12.0):
            solid -= bore(4.3, 30, 14).translate((x, y, 0))
    return solid


OVER_X = (180.0, 0.0, 0.0)
HOME = Group(
    "relay-frame",
    (
        Use("frame", frame, (0, 0, 0)),
        *(Use(f"pin_a{k}", pin, (x, y, THICK)) for k, (x, y) in enumerate(PINS, 1)),
        *(Use(f"pin_b{k}", pin, (x, -y, 0), OVER_X) for k, (x, y) in enumerate(PINS, 1)),
        Use("cover_a", cover, (0, 0, THICK)),
        Use("cover_b", cover, (0, 0, 0), OVER_X),
        *(Use(f"screw_a{k}", screw, (x, y, THICK + 6)) for k, (x, y) in enumerate(SCREWS, 1)),
        *(Use(f"screw_b{k}", screw, (x, -y, -6), OVER_X) for k, (x, y) in enumerate(SCREWS, 1)),
    ),
)


def main() -> None:
    """Write everything beside this file."""
    folder = Path(__file__).parent
    write_all(folder / "meshes", (frame, pin, cover, screw, nest, cover_tray, pin_block, presenter, stand))
    write_step(folder / "assembly.step", HOME)


if __name__ == "__main__":
    main()
