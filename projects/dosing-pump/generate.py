"""Draws the dosing pump and the holders of its cell, for development only; its output is committed.

    python projects/dosing-pump/generate.py          (needs build123d)

A small gear-type dosing pump for a greenhouse nutrient rig, an invented product: thirteen parts. It writes
meshes/*.stl for planning and trials and assembly.step (parts at home) for reading back. Lengths in mm, each
part in its own frame (see product.yaml and cell.yaml). Sizes are nominal: tolerances live in the files, never
in a drawing. For a mesh every hole is drawn wider by so much that the flats of its polygon touch the true
circle from outside, while shafts stay inside theirs; so a shaft in its hole never overlaps for the sake of
the drawing alone. The STEP file has the true circles.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np
from build123d import (
    Align,
    Box,
    Compound,
    Cone,
    Cylinder,
    Edge,
    Location,
    Part,
    Polygon,
    Pos,
    RegularPolygon,
    Rot,
    Torus,
    export_step,
    extrude,
    make_face,
)
from manifold3d import Manifold, Mesh

SEGMENTS = 96
AROUND = 1.0 / math.cos(math.pi / SEGMENTS)
"""Radius of the corners of a polygon with that many sides over the radius of the circle inside it."""
OVER = 1.0
"""A cut starts this far outside the material, so that no two faces coincide."""

CENTRES = 18.0
LOBE = 20.0
POCKET = 28.0  # depth of the pocket: two blocks of 9, gears of 9.96, and 0.04 of play between them
BLOCK = 9.0
FACE_WIDTH = 9.96
BODY = (90.0, 62.0, 34.0)
PORT = (12.0, 34.0)  # the chambers before and behind the teeth, across the waist of the figure eight
WAIST = 13.0  # width of a block between the flats at its waist, by which it is held
FLANGE, DOME = 6.0, 16.0  # of the cover
SCREWS = ((39.0, 25.0), (-39.0, -25.0), (39.0, -25.0), (-39.0, 25.0))
PINS = ((33.0, 0.0), (-33.0, 0.0))


@dataclass(frozen=True)
class Holes:
    """Draws what holes take away. wide: how much wider than nominal a circle is drawn."""

    wide: float = 1.0

    def bore(
        self, diameter: float, mouth: float, depth: float, chamfer: float = 0.0, angle: float = 45.0
    ) -> Part:
        """Down from z = mouth; chamfer: radial width, angle: from the face [deg]."""
        round_ = self.wide * diameter
        cut = shaft(round_, mouth - depth, mouth + OVER)
        if chamfer > 0:
            slope = math.tan(math.radians(angle))
            # Carried on past the mouth, so that the mouth has exactly the chamfer's width.
            out = 2 * self.wide * (chamfer + OVER / slope)
            cut += cone(round_, round_ + out, mouth - chamfer * slope, mouth + OVER)
        return cut

    def eight(self, depth: float, mouth: float) -> Part:
        """The figure eight of two lobes, with an edge break of 0.3."""
        return sum_of([Pos(s * CENTRES / 2, 0, 0) * self.bore(LOBE, mouth, depth, 0.3) for s in (-1, 1)])


def box(size: tuple[float, float, float], middle: tuple[float, float, float]) -> Part:
    """A block of the given edges, about its middle."""
    return Pos(*middle) * Box(*size)


def shaft(diameter: float, low: float, high: float) -> Part:
    """Round material along z from low to high."""
    return Pos(0, 0, low) * Cylinder(diameter / 2, high - low, align=(Align.CENTER, Align.CENTER, Align.MIN))


def cone(low_diameter: float, high_diameter: float, low: float, high: float) -> Part:
    """Round material along z whose diameter changes from low to high."""
    align = (Align.CENTER, Align.CENTER, Align.MIN)
    return Pos(0, 0, low) * Cone(low_diameter / 2, high_diameter / 2, high - low, align=align)


def tipped(diameter: float, low: float, high: float, length: float, angle: float, ends: str) -> Part:
    """A shaft with lead-ins, `length` along the axis and `angle` [deg] to it, at its "low" end, "high" end or
    both."""
    tip = diameter - 2 * length * math.tan(math.radians(angle))
    bottom, top = low + length * ("low" in ends), high - length * ("high" in ends)
    solid = shaft(diameter, bottom, top)
    if bottom > low:
        solid += cone(tip, diameter, low, bottom)
    return solid + cone(diameter, tip, top, high) if top < high else solid


def sum_of(parts: list[Part]) -> Part:
    """All of them together."""
    whole = parts[0]
    for part in parts[1:]:
        whole = whole + part
    return whole


def body(holes: Holes) -> Part:
    """90 x 62 x 34: pocket with its port chambers, ring groove, dowel holes, M4 holes at drill size, ports.

    Two slots 1.5 deep lead from the groove to the long sides: fingers reach the ring there, and a pick can
    pry it out.
    """
    top = BODY[2]
    solid = box(BODY, (0, 0, top / 2))
    solid -= holes.eight(POCKET, top)
    solid -= box((*PORT, POCKET + OVER), (0, 0, top - (POCKET - OVER) / 2))
    groove = shaft(47 + 2.7, top - 1.5, top + OVER) - shaft(47 - 2.7, top - 2, top + 2 * OVER)
    solid -= groove
    for side in (-1, 1):
        solid -= box((13, 10, 1.5 + OVER), (0, side * 28.5, top - (1.5 - OVER) / 2))
        solid -= Pos(0, side * 32, 20) * Rot(side * 90, 0, 0) * shaft(8, 0, 18)
    for x, y in PINS:
        solid -= Pos(x, y, 0) * holes.bore(5, top, 11, 0.5)
    for x, y in SCREWS:
        # Mouth 4.5 wide, 90 degrees: the chamfer is a quarter millimetre wide beyond the thread's 4.
        solid -= Pos(x, y, 0) * holes.bore(3.3, top, 14, (4.5 - 3.3) / 2)
    return solid


def lower_block(holes: Holes) -> Part:
    """A bearing block: figure eight 9 high, lead-ins below, two bores 8, flats at the waist 13 apart."""
    lobe = tipped(LOBE, 0, BLOCK, 0.6, 30, "low")
    solid = sum_of([Pos(s * CENTRES / 2, 0, 0) * lobe for s in (-1, 1)])
    solid += box((PORT[0] - 0.4, WAIST, BLOCK), (0, 0, BLOCK / 2))
    for side in (-1, 1):
        solid -= box((PORT[0], 8, BLOCK + 2 * OVER), (0, side * (WAIST / 2 + 4), BLOCK / 2))
    width = 0.6 * math.tan(math.radians(30))
    for x in (-CENTRES / 2, CENTRES / 2):
        cut = holes.bore(8, BLOCK, BLOCK + OVER, width, 60)
        cut += Pos(0, 0, BLOCK) * Rot(180, 0, 0) * holes.bore(8, BLOCK, 2, width, 60)
        solid -= Pos(x, 0, 0) * cut
    return solid


def upper_block(holes: Holes) -> Part:
    """Drawn like the lower one; it has more play in the pocket (see product.yaml)."""
    return lower_block(holes)


def drive_gear(_holes: Holes) -> Part:
    """The gear with a tooth on +x, its journals, and the shaft that leaves through the cover."""
    return (
        gear(0.0) + tipped(8, -8.5, 0, 1, 15, "low") + tipped(8, FACE_WIDTH, FACE_WIDTH + 35, 1, 15, "high")
    )


def idler_gear(_holes: Holes) -> Part:
    """The gear with a gap on -x, where the other one's tooth comes, and its journals."""
    turned = gear(math.pi / 18)
    return turned + tipped(8, -8.5, 0, 1, 15, "low") + tipped(8, FACE_WIDTH, FACE_WIDTH + 17, 1, 15, "high")


def gear(turn: float) -> Part:
    """Teeth m 1, z 18, 20 degrees, FACE_WIDTH wide, chamfered 0.3 at their ends; one at angle `turn` [rad].

    The tip circle is 19.94, free of the 20 mm lobe. Each tooth is 0.045 thinner at the pitch circle than half
    the pitch, so that two of them leave the middle of the backlash, 0.09, at centres of 18.00.
    """
    outline = extrude(make_face(_teeth(18, 1.0, math.radians(20), 19.94 / 2, 0.045, turn)), FACE_WIDTH)
    return outline & tipped(19.94, 0, FACE_WIDTH, 0.3, 45, "low high")


def _teeth(count: int, module: float, pressure: float, tip: float, thinner: float, turn: float) -> list[Edge]:
    """Edges around involute teeth; below the base circle the flanks run straight to the root."""
    pitch, root = count * module / 2, count * module / 2 - 1.25 * module
    base = pitch * math.cos(pressure)
    half = (math.pi * module / 2 - thinner) / (2 * pitch) + _involute(pressure)
    radii = np.linspace(base, tip, 9)
    # Half the tooth's angle at each radius: it shrinks by the involute function of the flank angle there.
    aside = [half - _involute(math.acos(min(1.0, base / r))) for r in radii]
    edges: list[Edge] = []
    for k in range(count):
        middle = turn + 2 * math.pi * k / count
        down = [_at(r, middle + a) for r, a in zip(radii, aside, strict=True)][::-1]
        up = [_at(r, middle - a) for r, a in zip(radii, aside, strict=True)]
        following = middle + 2 * math.pi / count
        edges += [
            Edge.make_line(_at(root, middle - half), up[0]),
            Edge.make_spline(up),
            Edge.make_three_point_arc(up[-1], _at(tip, middle), down[0]),
            Edge.make_spline(down),
            Edge.make_line(down[-1], _at(root, middle + half)),
            Edge.make_three_point_arc(
                _at(root, middle + half), _at(root, (middle + following) / 2), _at(root, following - half)
            ),
        ]
    return edges


def _involute(angle: float) -> float:
    return math.tan(angle) - angle


def _at(radius: float, angle: float) -> tuple[float, float, float]:
    return radius * math.cos(angle), radius * math.sin(angle), 0.0


def ring(_holes: Holes) -> Part:
    """45 x 2 (inner diameter, section), as it is before it is squeezed."""
    return Torus(23.5, 1.0)


def pin(_holes: Holes) -> Part:
    """A ground pin 5 x 16 with ends after ISO 8734 (0.8 long, about 15 degrees)."""
    return tipped(5, -8, 8, 0.8, 15, "low high")


def cover(holes: Holes) -> Part:
    """90 x 62, a flange 6 thick with a dome 38 x 24 over the shafts: one runs through, one ends in it."""
    solid = box((BODY[0], BODY[1], FLANGE), (0, 0, FLANGE / 2))
    solid += box((38, 24, DOME), (0, 0, DOME / 2))
    below = Rot(180, 0, 0)
    solid -= Pos(-CENTRES / 2, 0, 0) * below * holes.bore(9, 0, DOME + OVER, 0.5)
    solid -= Pos(CENTRES / 2, 0, 0) * below * holes.bore(9, 0, 9, 0.5)
    solid -= Pos(*PINS[0], 0) * below * holes.bore(5, 0, FLANGE + OVER, 0.5)
    for x in (-0.3, -0.15, 0.0, 0.15, 0.3):
        solid -= Pos(PINS[1][0] + x, 0, 0) * below * holes.bore(5, 0, FLANGE + OVER, 0.5)
    solid -= box((0.6, 5, FLANGE + 2 * OVER), (*PINS[1], FLANGE / 2))
    for x, y in SCREWS:
        solid -= Pos(x, y, 0) * holes.bore(4.5, FLANGE, FLANGE + OVER)
    return solid


def screw(_holes: Holes) -> Part:
    """M4 x 12 after ISO 4762: head 7 x 4, hexagon socket 3 across flats and 2 deep, no thread drawn.

    The shank is drawn at 3.9, about the middle of the major diameter in class 6g (3.838 to 3.978, from
    memory of ISO 965). So it overlaps the drill-size hole: the pair screws, and is known as a thread, not as
    a fit of cylinders.
    """
    socket = Pos(0, 0, 2) * extrude(RegularPolygon(3 / math.sqrt(3), 6), 2 + OVER)
    return tipped(3.9, -12, 0.5, 0.6, 45, "low") + shaft(7, 0, 4) - socket


def tray(_holes: Holes) -> Part:
    """The left tray: two pads for the bearing blocks, a post for the ring, risers for the cover.

    Each keeps its part within its slack; lips stand clear of where fingers come down or in.
    """
    solid = box((200, 260, 10), (0, 0, 5))
    for y in (-90, 90):
        solid += Pos(-50, y, 0) * _pad()
    solid += Pos(-50, 0, 0) * (shaft(40, 0, 25) + shaft(44.4, 25, 26.6) - shaft(32, 20, 30))
    for y in (-40, 40):
        solid += box((56, 8, 70), (55, y, 35))
        solid += box((20, 4, 73), (55, math.copysign(45.3 + 2, y), 36.5))
        solid += box((4, 8, 73), (55 + 31.3 + 2, y, 36.5)) + box((4, 8, 73), (55 - 31.3 - 2, y, 36.5))
    return solid


def _pad() -> Part:
    """A pad 25 high for a block lying along y: slim at the waist, a stop at each end, four at the lobes."""
    solid = box((8, 38, 25), (0, 0, 12.5))
    for side in (-1, 1):
        solid += box((24, 8, 25), (0, side * 13, 12.5))
        solid += box((6, 4, 29), (0, side * (19.15 + 2), 14.5))
        for x in (-1, 1):
            solid += box((4, 8, 29), (x * (10.15 + 2), side * 13, 14.5))
    return solid


def side_tray(_holes: Holes) -> Part:
    """The right tray: two posts in which the gears stand on their journals, two V-grooves for the pins."""
    solid = box((140, 160, 10), (0, 0, 5))
    for y in (40, -20):
        solid += Pos(-35, y, 0) * (shaft(20, 0, 30) - shaft(8.3 * AROUND, 20, 31))
    for y in (40, 0):
        solid += Pos(35, y, 0) * _v_rail()
    return solid


def _v_rail() -> Part:
    """A rail along y, 3.8 wide, with a 90 degree groove: a pin 5 x 16 lies in it with its axis at 40, 0.15
    from the stop at either end. Fingers close beside it."""
    deep = 2.5 * math.sqrt(2)  # the axis stands that high above the bottom of the groove
    solid = box((3.8, 16, 40 - 1.75), (0, 0, (40 - 1.75) / 2))
    wedge = Polygon((0, 0), (4, 4), (-4, 4), align=None)
    solid -= Pos(0, 10, 40 - deep) * Rot(90, 0, 0) * extrude(wedge, 20)
    for side in (-1, 1):
        solid += box((3.8, 3, 41), (0, side * (8.15 + 1.5), 20.5))
    return solid


def presenter(_holes: Holes) -> Part:
    """A block that carries four screws upright by their heads, 0.2 all round the 3.9 shank."""
    solid = box((60, 60, 30), (0, 0, 15))
    for x in (-13, 13):
        for y in (-13, 13):
            solid -= Pos(x, y, 0) * shaft(4.3 * AROUND, 16, 31)
    return solid


def set_down(_holes: Holes) -> Part:
    """A block with a flat top and, beside the middle, a hole 10 deep in which a pin stands."""
    return box((70, 70, 40), (0, 0, 20)) - Pos(25, 25, 0) * shaft(5.2 * AROUND, 30, 41)


def stand(_holes: Holes) -> Part:
    """A plate on two legs; the driver's nose hangs in its hole, two rails keep its collar straight."""
    solid = box((90, 60, 8), (0, 0, 79)) - shaft(16.4 * AROUND, 74, 84)
    for side in (-1, 1):
        solid += box((8, 60, 76), (side * 41, 0, 38))
        solid += box((24, 4, 9), (0, side * (17.2 + 2), 86.5))
    return solid


PARTS: tuple[Callable[[Holes], Part], ...] = (
    body,
    lower_block,
    upper_block,
    drive_gear,
    idler_gear,
    ring,
    pin,
    cover,
    screw,
)
HOLDERS: tuple[Callable[[Holes], Part], ...] = (tray, side_tray, presenter, set_down, stand)
FLOOR = BODY[2] - POCKET
GEARS = FLOOR + BLOCK
HOME: tuple[tuple[str, str, tuple[float, float, float]], ...] = (
    ("body", "body", (0, 0, 0)),
    ("lower_block", "lower_block", (0, 0, FLOOR)),
    ("drive_gear", "drive_gear", (-CENTRES / 2, 0, GEARS)),
    ("idler_gear", "idler_gear", (CENTRES / 2, 0, GEARS)),
    ("upper_block", "upper_block", (0, 0, GEARS + FACE_WIDTH)),
    ("ring", "ring", (0, 0, BODY[2] - 1.5 + 1.0)),
    ("pin_a", "pin", (*PINS[0], BODY[2] + 6 - 8)),
    ("pin_b", "pin", (*PINS[1], BODY[2] + 6 - 8)),
    ("cover", "cover", (0, 0, BODY[2])),
    *((f"screw_{n}", "screw", (x, y, BODY[2] + FLANGE)) for n, (x, y) in enumerate(SCREWS, 1)),
)
"""Part, which drawing it is, and where it stands in the finished pump, in the frame of the body."""


def write_stl(path: Path, solid: Part, flats: int = SEGMENTS) -> None:
    """Binary STL; the same solid gives the same bytes. Raises ValueError if the mesh does not close.

    flats: in a full turn; the CAD kernel draws twice as many as the angle it is given asks for.
    """
    corners, triangles = solid.tessellate(0.01, 2 * 2 * math.pi / flats)
    points = np.array([tuple(c) for c in corners], dtype=np.float32)
    points, where = np.unique(np.round(points, 5), axis=0, return_inverse=True)
    faces = where.reshape(-1)[np.array(triangles)]
    faces = faces[(faces != np.roll(faces, 1, axis=1)).all(axis=1)]
    closed = Manifold(Mesh(points, np.asarray(faces, dtype=np.uint32)))
    if closed.num_tri() == 0 or closed.volume() <= 0:
        raise ValueError(f"{path.name}: the mesh does not close ({closed.status()})")
    drawn = points[faces]
    across = np.cross(drawn[:, 1] - drawn[:, 0], drawn[:, 2] - drawn[:, 0])
    record = np.zeros(len(drawn), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
    record["normal"] = across / np.linalg.norm(across, axis=1, keepdims=True)
    record["corners"] = drawn
    head = f"{path.stem}, millimetres".encode().ljust(80, b" ")
    path.write_bytes(head + np.uint32(len(record)).tobytes() + record.tobytes())


def write_step(path: Path) -> None:
    """The pump with all parts at home, named; equal parts are one part used several times."""
    drawn = {draw.__name__: draw(Holes()) for draw in PARTS}
    placed = []
    for name, drawing, at in HOME:
        part = copy.copy(drawn[drawing])
        part.label = name
        placed.append(part.moved(Location(at)))
    whole = Compound(label="dosing-pump", children=placed)
    export_step(whole, str(path), write_pcurves=False, timestamp=datetime(2026, 1, 1))
    text = path.read_text(encoding="ascii")
    for last, name in (("pin_b", "pin"), ("screw_4", "screw")):
        # A part used several times has been given the name of its last use.
        text = text.replace(f"PRODUCT('{last}','{last}'", f"PRODUCT('{name}','{name}'")
    path.write_text(text, encoding="ascii")


def main() -> None:
    """Write everything beside this file."""
    folder = Path(__file__).parent
    (folder / "meshes").mkdir(exist_ok=True)
    for draw in (*PARTS, *HOLDERS):
        # The ring lies free in its groove: half as many flats will do, in a quarter of the file.
        flats = SEGMENTS // 2 if draw is ring else SEGMENTS
        write_stl(folder / "meshes" / f"{draw.__name__}.stl", draw(Holes(AROUND)), flats)
    write_step(folder / "assembly.step")


if __name__ == "__main__":
    main()
