"""Draws valve-bank, for development only; its output is committed.

    python projects/valve-bank/generate.py

It writes meshes/*.stl for planning and trials and assembly.step (parts at home) for reading back. Lengths
in mm, each part in its own frame (see product.yaml and cell.yaml). Sizes are nominal: tolerances live in the
files, never in a drawing.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
from drawing import Group, Solid, Use, bore, box, pointed, screw, stand, write_all, write_step

PITCH = 50.0  # of the valves on the manifold
PINS = ((-13.0, -7.0), (13.0, 7.0))
SCREWS = ((13.0, -7.0), (-13.0, 7.0))
BOSSES = (-12.0, 12.0)
FOOT = 36.0  # of the screw that holds a valve down, behind its middle


def manifold() -> Solid:
    """210 x 104 x 25; for each valve two bosses of 8, 6 high, and an M4 hole at its drill size 3.3."""
    solid = box((210, 104, 25), (0, 0, 12.5))
    for i in range(4):
        x = (i - 1.5) * PITCH
        for boss in BOSSES:
            solid += pointed(8, 24, 31, 0.8).translate((x + boss, 0, 0))
        solid -= bore(3.3, 25, 12, (4 + 2 * 0.4 - 3.3) / 2).translate((x, FOOT, 0))
    return solid


def body() -> Solid:
    """40 x 30 x 40 on a foot of 40 x 60 x 8; two bores below, two pin bores and two M4 holes above."""
    solid = box((40, 30, 40), (0, 0, 20)) + box((40, 60, 8), (0, 15, 4))
    solid -= bore(4.5, 8, 8 + 1).translate((0, FOOT, 0))
    for x in BOSSES:
        solid -= bore(8, 0, 8, 0.5).rotate((180, 0, 0)).translate((x, 0, 0))
    for x, y in PINS:
        solid -= bore(5, 40, 12, 0.5).translate((x, y, 0))
    for x, y in SCREWS:
        solid -= bore(3.3, 40, 12, (4 + 2 * 0.4 - 3.3) / 2).translate((x, y, 0))
    return solid


def pin() -> Solid:
    """5 x 16, both ends with a 0.5 chamfer."""
    half = pointed(5, -0.5, 8, 0.5)
    return half + half.rotate((180, 0, 0))


def cap() -> Solid:
    """40 x 27 x 6 with the pins' holes (chamfer below) and the screws' clearance holes."""
    solid = box((40, 27, 6), (0, 0, 3))
    for x, y in PINS:
        solid -= bore(5, 0, 7, 0.5).rotate((180, 0, 0)).translate((x, y, 0))
    for x, y in SCREWS:
        solid -= bore(4.5, 6, 7).translate((x, y, 0))
    return solid


def bench() -> Solid:
    """A plate for four valves, each between two stops at its sides and two at the front and back of its
    foot."""
    solid = box((300, 114, 20), (0, 0, 10))
    for i in range(4):
        x = (i - 1.5) * 70
        for side in (-1.0, 1.0):
            solid += box((4, 16, 12), (x + side * (20.1 + 2), 30, 20))
        solid += box((16, 4, 8), (x, 45.1 + 2, 20))
        solid += box((16, 4, 8), (x, -15.1 - 2, 20))
    return solid


def cap_tray() -> Solid:
    """Two risers under each of four caps; lips at the ends, the long sides free for the fingers."""
    solid = box((80, 260, 10), (0, 0, 5))
    for i in range(4):
        y = (i - 1.5) * 62
        for side in (-1.0, 1.0):
            solid += box((12, 20, 25), (side * 13, y, 12.5))
            solid += box((4, 12, 29), (side * (20.3 + 2), y, 14.5))
    return solid


def pin_block() -> Solid:
    """A block on which eight pins stand upright in bores of 5.3, 8 deep."""
    solid = box((90, 170, 30), (0, 0, 15))
    for i in range(2):
        for k in range(4):
            solid -= bore(5.3, 30, 8, 0).translate(((i - 0.5) * 44, (k - 1.5) * 40, 0))
    return solid


def presenter() -> Solid:
    """A block that carries twelve screws upright by their heads, 0.2 all round the 3.9 shank."""
    solid = box((70, 90, 30), (0, 0, 15))
    for i in range(3):
        for k in range(4):
            solid -= bore(4.3, 30, 14).translate(((i - 1) * 20, (k - 1.5) * 20, 0))
    return solid


VALVE = Group(
    "valve",
    (
        Use("body", body, (0, 0, 0)),
        *(Use(f"pin_{k}", pin, (x, y, 38)) for k, (x, y) in zip("ab", PINS, strict=True)),
        Use("cap", cap, (0, 0, 40)),
        *(Use(f"screw_{k}", screw, (x, y, 46)) for k, (x, y) in zip("ab", SCREWS, strict=True)),
    ),
)
HOME = Group(
    "valve-bank",
    (
        Use("manifold", manifold, (0, 0, 0)),
        *(Use(f"valve_{i + 1}", VALVE, ((i - 1.5) * PITCH, 0, 25)) for i in range(4)),
        *(Use(f"foot_screw_{i + 1}", screw, ((i - 1.5) * PITCH, FOOT, 33)) for i in range(4)),
    ),
)


def main() -> None:
    """Write everything beside this file."""
    folder = Path(__file__).parent
    write_all(
        folder / "meshes", (manifold, body, pin, cap, screw, bench, cap_tray, pin_block, presenter, stand)
    )
    write_step(folder / "assembly.step", HOME)


if __name__ == "__main__":
    main()
