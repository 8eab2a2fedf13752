"""Draws first-fit, for development only; its output is committed.

    python projects/first-fit/generate.py

It writes meshes/*.stl for planning and trials and assembly.step (parts at home) for reading back. Lengths
in mm, each part in its own frame (see product.yaml and cell.yaml). Sizes are nominal: tolerances live in the
files, never in a drawing.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
import drawing
from drawing import OVER, Group, Solid, Use, bore, box, cone, screw, shaft, stand, write_all, write_step


def block() -> Solid:
    """100 x 50 x 30 with the bore 8 H7 (24 deep) and the M4 hole at its drill size 3.3 (12 deep).

    The M4 mouth is opened to the thread's 4 mm plus the chamfer's 0.4 all round.
    """
    body = box((100, 50, 30), (0, 0, 15))
    body -= bore(8, 30, 24, 0.5).translate((-28, 0, 0))
    return body - bore(3.3, 30, 12, (4 + 2 * 0.4 - 3.3) / 2).translate((38, 0, 0))


def pin() -> Solid:
    """8 x 40, the top end with a 0.8 chamfer."""
    return shaft(8, -20, 19.2) + cone(8, 6.4, 19.2, 20)


def cover() -> Solid:
    """96 x 46 x 6 with the pin's hole (chamfer below) and the screw's clearance hole."""
    body = box((96, 46, 6), (0, 0, 3))
    from_below = bore(8, 0, 6 + OVER, 0.5).rotate((180, 0, 0))
    body -= from_below.translate((-28, 0, 0))
    return body - bore(4.5, 6, 6 + OVER).translate((38, 0, 0))


def tray() -> Solid:
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


def presenter() -> Solid:
    """A post that carries one screw upright by its head, 0.2 all round the 3.9 shank."""
    return box((60, 60, 10), (0, 0, 5)) + box((20, 20, 30), (0, 0, 15)) - bore(4.3, 30, 14)


HOME = Group(
    "first-fit",
    (
        Use("block", block, (0, 0, 0)),
        Use("pin", pin, (-28, 0, 30)),
        Use("cover", cover, (0, 0, 30)),
        Use("screw", screw, (38, 0, 36)),
    ),
)


def main() -> None:
    """Write everything beside this file."""
    folder = Path(__file__).parent
    drawing.FLATS = 96
    write_all(folder / "meshes", (block, pin, cover, screw, tray, presenter, stand))
    write_step(folder / "assembly.step", HOME)


if __name__ == "__main__":
    main()
