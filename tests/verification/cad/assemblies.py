"""The corpus of assemblies [mm]: what goes into what, written down as they are drawn."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from tests.verification.cad import cuts, draw
from tests.verification.cad.parts import turned

Z = np.array([0.0, 0.0, 1.0])
DRILLS = cuts.TAP_DRILLS
HEADS = {"M3": (5.5, 3.0, 2.5, 1.3), "M4": (7.0, 4.0, 3.0, 2.0), "M5": (8.5, 5.0, 4.0, 2.5)}
"""ISO 4762: head, height, key, socket depth (from memory)."""
CLEAR = {"M3": 3.4, "M4": 4.5, "M5": 5.5}  # ISO 273, medium


@dataclass
class Drawn:
    """parts: name, shape, T; mates: kind by part; pairs: (moving part, fixed part, x, y) with the axis along
    z; tried in the frame in which all was drawn; T: by which the whole was turned."""

    name: str
    base: str
    parts: list[tuple[str, Any, np.ndarray]] = field(default_factory=list)
    mates: dict[str, str] = field(default_factory=dict)
    pairs: set[tuple[str, str, float, float]] = field(default_factory=set)
    T: np.ndarray = field(default_factory=lambda: np.eye(4))

    def put(self, name: str, shape: Any, at: tuple[float, float, float] = (0, 0, 0)) -> None:
        T = np.eye(4)
        T[:3, 3] = at
        self.parts.append((name, shape, T))

    def mate(self, kind: str, moving: str, fixed: str, *axes: tuple[float, float]) -> None:
        self.mates[moving] = kind
        self.pairs |= {(moving, fixed, round(x, 4), round(y, 4)) for x, y in axes}

    def placed(self) -> list[tuple[str, Any, np.ndarray]]:
        return [(name, shape, self.T @ T) for name, shape, T in self.parts]


def screw(thread: str, length: float) -> Any:
    """Under the head at z = 0, tip down."""
    d = float(thread[1:])
    wide, tall, key, deep = HEADS[thread]
    shank = draw.add(draw.rod((0, 0, 0.5 - length), Z, d - 0.1, length), draw.rod((0, 0, 0), Z, wide, tall))
    shank = draw.add(shank, draw.cone((0, 0, -length), Z, d - 1.1, d - 0.1, 0.5))
    r = key / np.sqrt(3)
    corners = [[r * np.cos(a), r * np.sin(a), tall - deep] for a in np.arange(6) * np.pi / 3]
    return draw.cut(shank, draw.prism(np.array(corners), (0, 0, deep + 1)))


def pin(d: float, length: float) -> Any:
    """About its middle, ends after ISO 8734."""
    tall = {3.0: 0.5, 4.0: 0.63, 5.0: 0.8, 6.0: 1.2}[d]
    w = tall * np.tan(np.deg2rad(15))
    low = -length / 2
    middle = draw.rod((0, 0, low + tall), Z, d, length - 2 * tall)
    ends = (
        draw.cone((0, 0, low), Z, d - 2 * w, d, tall),
        draw.cone((0, 0, -low - tall), Z, d, d - 2 * w, tall),
    )
    return draw.add(middle, *ends)


def bored(shape: Any, *holes: tuple[float, float, float, float, float]) -> Any:
    """Each hole: x, y, top, diameter, depth, with a chamfer of 0.3."""
    for x, y, top, d, depth in holes:
        tool, _ = cuts.hole(np.array([x, y, top]), -Z, d, depth, False, 0.3, flat=True)
        shape = draw.cut(shape, tool)
    return shape


def through(shape: Any, *holes: tuple[float, float, float, float, float]) -> Any:
    """Each hole: x, y, top, diameter, height of the plate."""
    for x, y, top, d, tall in holes:
        tool, _ = cuts.hole(np.array([x, y, top]), -Z, d, tall, True, 0.3)
        shape = draw.cut(shape, tool)
    return shape


@dataclass(frozen=True)
class Rig:
    """A block with a bush, a cover on two pins, screws: what revisions change."""

    thread: str = "M4"
    pin: float = 5.0
    pins: tuple[tuple[float, float], ...] = ((-33.0, 0.0), (33.0, 4.0))
    screws: tuple[tuple[float, float], ...] = ((-33.0, -18.0), (33.0, -18.0), (33.0, 18.0), (-33.0, 18.0))
    bush: tuple[float, float] = (0.0, 0.0)
    bush_diameter: float = 12.0
    extra: tuple[tuple[float, float, float], ...] = ((-15.0, -15.0, 6.2),)
    thick: float = 20.0
    mirrored: bool = False
    names: tuple[tuple[str, str], ...] = ()


def rig(p: Rig, name: str = "rig") -> Drawn:
    """From its parameters."""
    made = Drawn(name, dict(p.names).get("block", "block"))
    called = dict(p.names)
    size, flange = (84.0, 50.0), 6.0
    drill, clear, top = DRILLS[p.thread], CLEAR[p.thread], p.thick
    body = draw.box((-size[0] / 2, -size[1] / 2, 0), (size[0] / 2, size[1] / 2, top))
    body = bored(body, *((x, y, top, p.pin, 10.0) for x, y in p.pins))
    body = bored(
        body, *((x, y, top, drill, 12.0) for x, y in p.screws), (*p.bush, top, p.bush_diameter, 14.0)
    )
    body = bored(body, *((x, y, top, d, 8.0) for x, y, d in p.extra))
    cover = draw.box((-size[0] / 2, -size[1] / 2, 0), (size[0] / 2, size[1] / 2, flange))
    cover = through(cover, *((x, y, flange, p.pin, flange) for x, y in p.pins))
    cover = through(cover, *((x, y, flange, clear, flange) for x, y in p.screws))
    bush = through(draw.rod((0, 0, 0), Z, p.bush_diameter, 13.0), (0, 0, 13.0, 6.0, 13.0))
    dowel, bolt = pin(p.pin, 16.0), screw(p.thread, 12.0)
    shapes = {"block": body, "cover": cover, "bush": bush}
    if p.mirrored:
        shapes = {k: draw.mirrored(v) for k, v in shapes.items()}
    side = -1.0 if p.mirrored else 1.0

    def call(n: str) -> str:
        return called.get(n, n)

    made.put(call("block"), shapes["block"])
    made.put(call("bush"), shapes["bush"], (side * p.bush[0], p.bush[1], top - 14.0))
    made.mate("insert", call("bush"), call("block"), (side * p.bush[0], p.bush[1]))
    for k, (x, y) in enumerate(p.pins, 1):
        made.put(call(f"pin_{k}"), dowel, (side * x, y, top - 2.0))
        made.mate("insert", call(f"pin_{k}"), call("block"), (side * x, y))
    made.put(call("cover"), shapes["cover"], (0, 0, top))
    for k, (x, y) in enumerate(p.pins, 1):
        made.mate("seat", call("cover"), call(f"pin_{k}"), (side * x, y))
    for k, (x, y) in enumerate(p.screws, 1):
        made.put(call(f"screw_{k}"), bolt, (side * x, y, top + flange))
        made.mate("screw", call(f"screw_{k}"), call("block"), (side * x, y))
    return made


def gearbox() -> Drawn:
    """Two spur gears with journals in a plate, a second plate over them."""
    made = Drawn("gearbox", "plate")
    a, m, z1, z2 = 6.0, 1.0, 20, 28
    apart = m * (z1 + z2) / 2
    axes = (0.0, 0.0), (apart, 0.0)
    body = bored(draw.box((-16, -20, 0), (apart + 20, 20, 12)), *((x, y, 12.0, a, 8.0) for x, y in axes))
    made.put("plate", body)
    for k, (x, y) in enumerate(axes, 1):
        made.put(
            f"gear_{k}", geared(m, (z1, z2)[k - 1], a, phase=(k - 1) * np.pi * (1 + 1 / z2)), (x, y, 12.2)
        )
        made.mate("insert" if k == 1 else "gear-mesh", f"gear_{k}", "plate", (x, y))
    made.pairs.add(("gear_2", "gear_1", 0.0, 0.0))
    lid = through(draw.box((-16, -20, 0), (apart + 20, 20, 6)), *((x, y, 6.0, a, 6.0) for x, y in axes))
    made.put("lid", lid, (0, 0, 18.4))
    made.mate("insert", "lid", "gear_1", axes[0])
    made.pairs.add(("lid", "gear_2", *axes[1]))
    return made


def geared(m: float, count: int, journal: float, phase: float) -> Any:
    """Teeth from z = 0 to 6, a journal 7 long on either side."""
    tip, root, step = m * (count + 2) / 2 - 0.05, m * (count - 2.5) / 2, 2 * np.pi / count
    disc = draw.rod((0, 0, 0), Z, 2 * tip, 6.0)
    for k in range(count):
        mid = phase + (k + 0.5) * step
        corners = [(root, mid - 0.2 * step), (tip + 1, mid - 0.36 * step)]
        corners += [(tip + 1, mid + 0.36 * step), (root, mid + 0.2 * step)]
        points = np.array([[r * np.cos(t), r * np.sin(t), -1.0] for r, t in corners])
        disc = draw.cut(disc, draw.prism(points, (0, 0, 8.0)))
    return draw.add(disc, draw.rod((0, 0, -7.0), Z, journal, 7.0), draw.rod((0, 0, 6.0), Z, journal, 7.0))


def bearing_block() -> Drawn:
    """A ball bearing drawn as one body in its seat, an axle in it."""
    made = Drawn("bearing-block", "block")
    seat = bored(draw.box((-25, -25, 0), (25, 25, 20)), (0.0, 0.0, 20.0, 22.0, 7.0))
    made.put("block", through(seat, (0.0, 0.0, 13.0, 14.0, 13.0)))
    made.put("bearing", draw.cut(draw.rod((0, 0, 0), Z, 22, 7), draw.rod((0, 0, -1), Z, 8, 9)), (0, 0, 13))
    made.mate("insert", "bearing", "block", (0, 0))
    axle = draw.add(draw.rod((0, 0, 0), Z, 8, 12), draw.rod((0, 0, 12), Z, 12, 10))
    made.put("axle", axle, (0, 0, 8))
    made.mate("insert", "axle", "bearing", (0, 0))
    return made


def sealed() -> Drawn:
    """An O-ring in a face groove, a lid on two pins over it."""
    made = Drawn("sealed", "base")
    body = draw.box((-30, -30, 0), (30, 30, 15))
    ring = draw.cut(draw.rod((0, 0, 13.5), Z, 32.7, 3), draw.rod((0, 0, 0), Z, 27.3, 30))
    body = bored(draw.cut(body, ring), (-24.0, -24.0, 15.0, 4.0, 8.0), (24.0, 24.0, 15.0, 4.0, 8.0))
    made.put("base", body)
    made.put("o_ring", draw.torus((0, 0, 0), Z, 30.0, 2.0), (0, 0, 14.5))
    made.mate("ring", "o_ring", "base", (0, 0))
    lid = draw.box((-30, -30, 0), (30, 30, 5))
    for k, (x, y) in enumerate(((-24.0, -24.0), (24.0, 24.0)), 1):
        made.put(f"pin_{k}", pin(4.0, 12.0), (x, y, 13.0))
        made.mate("insert", f"pin_{k}", "base", (x, y))
        lid = through(lid, (x, y, 5.0, 4.0, 5.0))
    made.put("lid", lid, (0, 0, 15))
    for k, (x, y) in enumerate(((-24.0, -24.0), (24.0, 24.0)), 1):
        made.mate("seat", "lid", f"pin_{k}", (x, y))
    made.mate("seat", "lid", "o_ring", (0, 0))  # the ring stands half a millimetre proud: the lid squeezes it
    return made


def post() -> Drawn:
    """Three spacers over a post."""
    made = Drawn("post", "foot")
    made.put("foot", draw.add(draw.box((-25, -25, 0), (25, 25, 10)), draw.rod((0, 0, 10), Z, 10, 40)))
    z = 10.0
    for k, tall in enumerate((8.0, 5.0, 12.0), 1):
        spacer = draw.cut(draw.rod((0, 0, 0), Z, 18 + k, tall), draw.rod((0, 0, -1), Z, 10, tall + 2))
        made.put(f"spacer_{k}", spacer, (0, 0, z))
        made.mate("seat", f"spacer_{k}", "foot", (0, 0))
        z += tall
    return made


def slider() -> Drawn:
    """A plate located by a pin in a hole and one in a slot."""
    made = Drawn("slider", "bed")
    bed = bored(
        draw.box((-40, -20, 0), (40, 20, 16)), (-28.0, 0.0, 16.0, 6.0, 9.0), (28.0, 0.0, 16.0, 6.0, 9.0)
    )
    made.put("bed", bed)
    for k, x in enumerate((-28.0, 28.0), 1):
        made.put(f"pin_{k}", pin(6.0, 16.0), (x, 0, 15.0))
        made.mate("insert", f"pin_{k}", "bed", (x, 0))
    plate = through(draw.box((-40, -20, 0), (40, 20, 8)), (-28.0, 0.0, 8.0, 6.0, 8.0))
    tool, _ = cuts.slot(np.array([28.0, 0, 8.0]), -Z, np.array([1.0, 0, 0]), 7.2, 6.0, 8.0, True)
    made.put("plate", draw.cut(plate, tool), (0, 0, 16))
    made.mate("seat", "plate", "pin_1", (-28.0, 0))
    made.mate("seat", "plate", "pin_2", (28.0, 0))
    return made


def corpus(seed: int) -> list[Drawn]:
    """Nine assemblies, each turned any way as a whole."""
    made = [
        rig(Rig(), "rig"), rig(Rig("M5", 6.0, bush_diameter=15.0, thick=24.0), "rig_m5"),
        rig(Rig("M3", 4.0, screws=((-20.0, 10.0), (20.0, -10.0)), extra=()), "rig_m3"),
        gearbox(), bearing_block(), sealed(), post(), slider(), rig(Rig(mirrored=True), "rig_mirrored"),
    ]  # fmt: skip
    for k, one in enumerate(made):
        rng = np.random.default_rng([seed, k])
        one.T[:3, :3] = turned(rng)
        one.T[:3, 3] = rng.uniform(-200, 200, 3)
    return made
