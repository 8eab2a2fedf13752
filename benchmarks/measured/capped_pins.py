"""A product of many parts and several kinds of mates, drawn by a seed.

On a plate stand pairs of pins, over each pair goes a cap, and each cap is held by two screws: pins first,
then their cap, then its screws. What is left of the number of parts are pins by themselves. Either side of
the cell has its trays, its screws and a driver; what comes from which side is drawn, as far as the arm there
reaches.
"""

from __future__ import annotations

import shutil
import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import yaml
from measured.results import PROJECTS

sys.path.insert(0, str(PROJECTS))
from drawing import bore, box, pointed, screw, stand, write_stl  # type: ignore[import-not-found]

PITCH = (52.0, 50.0)  # of the caps on the plate: a finger of 7 goes down between two [mm]
PINS = ((-13.0, -7.0), (13.0, 7.0))  # of a pair, from the middle of its cap [mm]
SCREWS = ((13.0, -7.0), (-13.0, 7.0))
THICK = 25.0  # of the plate [mm]
SEAT = 400.0  # how far its middle lies before the arms [mm]
ARMS = (-500.0, 500.0)  # where they stand [mm]
REACH = 780.0  # of an arm that works upright over the plate [mm]
ACROSS = 6  # caps in a row of the plate
Spot = tuple[float, float]


@dataclass(frozen=True)
class Tray:
    """What waits in a tray: where its middle lies on the right side, how many stand in a row, how far apart,
    and how high the part's frame is [mm]."""

    name: str
    at: Spot
    across: int
    pitch: Spot
    high: float
    kind: str = "tray"


TRAYS = {
    "pin": Tray("pins", (455.0, 430.0), 5, (26.0, 26.0), 30.0),
    "cap": Tray("caps", (290.0, 440.0), 3, (50.0, 48.0), 25.0),
    "screw": Tray("screws", (290.0, 225.0), 5, (20.0, 20.0), 30.0, "presenter"),
}
STAND = (430.0, 250.0)  # of the driver, on the right side [mm]
SIDES = ("left", "right")


@dataclass
class Drawn:
    """Parts by name with what they are and the side they come from; mates in order; features of the plate."""

    parts: dict[str, tuple[str, int]] = field(default_factory=dict)
    mates: dict[str, Any] = field(default_factory=dict)
    plate: dict[str, Any] = field(default_factory=dict)


def write_capped(folder: Path, parts: int, seed: int) -> Path:
    """A project of so many parts (the plate is one) in the pump's cell, in `folder`, which is made."""
    rng = np.random.default_rng(seed)
    pairs, alone = divmod(parts - 1, 1 + len(PINS) + len(SCREWS))
    spots = _grid(pairs + (alone > 0), ACROSS, PITCH)
    drawn = Drawn()
    for n, spot in enumerate(spots[:pairs]):
        _pair(drawn, n, spot, rng)
    for n in range(alone):
        x, y = spots[-1]
        _pin(drawn, f"{pairs}{'abcd'[n]}", (x + (n % 2 - 0.5) * 26.0, y + (n // 2 - 0.5) * 26.0), rng)
    waiting = {(what, side): [name for name, of in drawn.parts.items() if of == (what, side)]
               for what in TRAYS for side in (0, 1)}  # fmt: skip
    (folder / "meshes").mkdir(parents=True)
    shutil.copytree(PROJECTS / "dosing-pump" / "arms", folder / "arms")
    _draw(folder / "meshes", drawn, spots, waiting)
    files = {"product": "product.yaml", "cell": "cell.yaml"}
    _write(folder / "project.yaml", {"project": f"capped-pins-{parts}", **files, "clearance": "5 mm"})
    _write(folder / "product.yaml", _product(drawn))
    _write(folder / "cell.yaml", _cell(waiting, spots))
    return folder


def _grid(count: int, across: int, pitch: Spot) -> list[Spot]:
    rows = -(-count // across)
    left, front = (min(across, count) - 1) / 2, (rows - 1) / 2
    return [((k % across - left) * pitch[0], (k // across - front) * pitch[1]) for k in range(count)]


def _side(spot: Spot, rng: Any) -> int:
    """From which side a part comes: drawn, if both arms reach where it goes."""
    reached = [s for s in (0, 1) if np.hypot(spot[0] - ARMS[s], spot[1] + SEAT) <= REACH]
    return int(rng.choice(reached))


def _pair(drawn: Drawn, n: int, spot: Spot, rng: Any) -> None:
    """Two pins, the cap over them, and its screws."""
    for (dx, dy), k in zip(PINS, "ab", strict=True):
        _pin(drawn, f"{n}{k}", (spot[0] + dx, spot[1] + dy), rng)
    over = [{"moving": f"hole_{k}", "fixed": f"pin_{n}{k}.top", "depth": "-6 mm"} for k in "ab"]
    drawn.parts[f"cap_{n}"] = ("cap", _side(spot, rng))
    drawn.mates[f"cap-{n}"] = {"kind": "seat", "part": f"cap_{n}", "into": "plate", "pairs": over,
                               "force_limit": "30 N"}  # fmt: skip
    side = _side(spot, rng)
    for (dx, dy), k in zip(SCREWS, "ab", strict=True):
        name = f"screw_{n}{k}"
        drawn.parts[name] = ("screw", side)
        drawn.plate[f"tapped_{n}{k}"] = {
            "kind": "thread", "at": _mm(spot[0] + dx, spot[1] + dy, THICK), "z_along": "-z", "thread": "M4",
            "length": "12 mm", "chamfer": {"width": "0.4 mm", "angle": "45 deg"},
        }  # fmt: skip
        drawn.mates[f"screw-{n}{k}"] = {
            "kind": "screw", "tool": f"driver_{SIDES[side]}", "torque": "1.8 N m", "free_roll": True,
            "part": name, "into": "plate", "clamps": [f"cap_{n}"],
            "pairs": [{"moving": "shank", "fixed": f"plate.tapped_{n}{k}", "depth": "6 mm"}],
        }  # fmt: skip


def _pin(drawn: Drawn, name: str, at: Spot, rng: Any) -> None:
    drawn.parts[f"pin_{name}"] = ("pin", _side(at, rng))
    drawn.plate[f"hole_{name}"] = {"kind": "hole", "at": _mm(*at, THICK), "z_along": "-z", "diameter": "5 mm",
                                   "fit": "G7", "length": "12 mm", "chamfer": _CHAMFER}  # fmt: skip
    pair = {"moving": "tip", "fixed": f"plate.hole_{name}", "depth": "10 mm"}
    drawn.mates[f"pin-{name}"] = {"kind": "insert", "part": f"pin_{name}", "into": "plate", "free_roll": True,
                                  "pairs": [pair],
                                  "force_limit": "30 N"}  # fmt: skip


_CHAMFER = {"width": "0.5 mm", "angle": "45 deg"}
_END = {"kind": "shaft", "diameter": "5 mm", "fit": "h6", "length": "8 mm", "chamfer": _CHAMFER}
_HOLE = {
    "kind": "hole",
    "z_along": "+z",
    "diameter": "5 mm",
    "fit": "E9",
    "length": "6 mm",
    "chamfer": _CHAMFER,
}
_FACE = {"kind": "face"}
FEATURES: dict[str, dict[str, Any]] = {
    "pin": {
        "tip": {**_END, "at": ["0 mm", "0 mm", "-8 mm"], "z_along": "-z"},
        "top": {**_END, "at": ["0 mm", "0 mm", "8 mm"], "z_along": "+z"},
    },
    "cap": {
        "hole_a": {**_HOLE, "at": ["-13 mm", "-7 mm", "0 mm"]},
        "hole_b": {**_HOLE, "at": ["13 mm", "7 mm", "0 mm"]},
        "under": {**_FACE, "at": ["0 mm", "0 mm", "0 mm"], "z_along": "-z", "size": ["40 mm", "27 mm"]},
        "front": {**_FACE, "at": ["0 mm", "-13.5 mm", "3 mm"], "z_along": "-y", "size": ["40 mm", "6 mm"]},
        "back": {**_FACE, "at": ["0 mm", "13.5 mm", "3 mm"], "z_along": "+y", "size": ["40 mm", "6 mm"]},
    },
    "screw": {
        "shank": {"kind": "thread", "at": ["0 mm", "0 mm", "-12 mm"], "z_along": "-z", "thread": "M4",
                  "external": True, "length": "12 mm"},
        "socket": {"kind": "hole", "at": ["0 mm", "0 mm", "4 mm"], "z_along": "-z", "diameter": "3 mm",
                   "length": "2 mm"},
        "seat": {**_FACE, "at": ["0 mm", "0 mm", "0 mm"], "z_along": "-z", "size": ["7 mm", "7 mm"]},
    },
}  # fmt: skip
MASS = {"pin": "2.4 g", "cap": "17 g", "screw": "2 g"}


def _draw(folder: Path, drawn: Drawn, spots: list[Spot], waiting: dict[tuple[str, int], list[str]]) -> None:
    plate = box(_plate_size(spots), (0, 0, THICK / 2))
    for f in drawn.plate.values():
        x, y = (float(v.removesuffix(" mm")) for v in f["at"][:2])
        hole = (5.0, 0.5) if f["kind"] == "hole" else (3.3, (4 + 2 * 0.4 - 3.3) / 2)
        plate -= bore(hole[0], THICK, 12, hole[1]).translate((x, y, 0))
    half = pointed(5, -0.5, 8, 0.5)
    cap = box((40, 27, 6), (0, 0, 3))
    for x, y in PINS:
        cap -= bore(5, 0, 7, 0.5).rotate((180, 0, 0)).translate((x, y, 0))
    for x, y in SCREWS:
        cap -= bore(4.5, 6, 7).translate((x, y, 0))
    solids = {
        "plate": plate,
        "pin": half + half.rotate((180, 0, 0)),
        "cap": cap,
        "screw": screw(),
        "stand": stand(),
    }
    for (what, side), names in waiting.items():
        if names:
            solids[f"{what}s_{SIDES[side]}"] = _tray(what, len(names))
    for name, solid in solids.items():
        write_stl(folder / f"{name}.stl", solid.mesh)


def _tray(what: str, count: int) -> Any:
    tray = TRAYS[what]
    spots = _grid(count, tray.across, tray.pitch)
    x, y = (2 * max(abs(s[i]) for s in spots) + tray.pitch[i] for i in (0, 1))
    if what == "cap":  # two risers under each, the long sides free for the fingers, lips at the ends
        solid = box((x, y, 10), (0, 0, 5))
        for px, py in spots:
            for side in (-1.0, 1.0):
                solid += box((12, 20, 25), (px + side * 13, py, 12.5))
                solid += box((4, 12, 29), (px + side * (20.3 + 2), py, 14.5))
        return solid
    solid = box((x, y, 30), (0, 0, 15))
    for px, py in spots:
        cut = bore(5.3, 30, 8) if what == "pin" else bore(4.3, 30, 14)
        solid -= cut.translate((px, py, 0))
    return solid


def _plate_size(spots: list[Spot]) -> tuple[float, float, float]:
    x, y = (2 * max(abs(s[i]) for s in spots) + PITCH[i] for i in (0, 1))
    return (x, y, THICK)


def _mm(*values: float) -> list[str]:
    return [f"{v:g} mm" for v in values]


def _product(drawn: Drawn) -> dict[str, Any]:
    plate = {"solids": [{"mesh": "meshes/plate.stl", "unit": "mm"}], "mass": "2 kg", "features": drawn.plate}
    parts = {name: {"solids": [{"mesh": f"meshes/{what}.stl", "unit": "mm"}], "mass": MASS[what],
                    "features": FEATURES[what]} for name, (what, _) in drawn.parts.items()}  # fmt: skip
    return {"base": "plate", "parts": {"plate": plate, **parts}, "mates": drawn.mates}


def _cell(waiting: dict[tuple[str, int], list[str]], spots: list[Spot]) -> dict[str, Any]:
    pump = yaml.safe_load((PROJECTS / "dosing-pump" / "cell.yaml").read_text(encoding="utf-8"))
    out: dict[str, Any] = {k: pump[k] for k in ("arms", "grippers", "obstacles", "controller")}
    out["tools"] = {f"driver_{side}": pump["tools"]["driver"] for side in SIDES}
    x, y, _ = _plate_size(spots)
    seat = {"solids": [{"box": _mm(x, y, 15), "at": {"position": _mm(0, 0, 7.5)}}], "kind": "nest",
            "at": {"position": _mm(0, SEAT, 0)},
            "places": {"seat": {"at": {"position": _mm(0, 0, 15)}, "holds": "plate"}}}  # fmt: skip
    holders: dict[str, Any] = {"nest": seat}
    for (what, side), names in waiting.items():
        tray = TRAYS[what]
        at = _grid(len(names), tray.across, tray.pitch)
        places = {name: {"at": {"position": _mm(*xy, tray.high)}, "holds": name}
                  for name, xy in zip(names, at, strict=True)}  # fmt: skip
        if names:
            holders[f"{tray.name}_{SIDES[side]}"] = _holder(
                tray.kind, f"{what}s_{SIDES[side]}", tray.at, side, places
            )
    for side, name in enumerate(SIDES):
        driver = {"at": {"position": _mm(0, 0, 33)}, "holds": f"driver_{name}"}
        holders[f"stand_{name}"] = _holder("stand", "stand", STAND, side, {"driver": driver})
    return {**out, "holders": holders}


def _holder(kind: str, mesh: str, at: Spot, side: int, places: dict[str, Any]) -> dict[str, Any]:
    x = at[0] if side else -at[0]
    return {"kind": kind, "at": {"position": _mm(x, at[1], 0)},
            "solids": [{"mesh": f"meshes/{mesh}.stl", "unit": "mm"}], "places": places}  # fmt: skip


def _write(path: Path, tree: Any) -> None:
    path.write_text(yaml.safe_dump(tree, sort_keys=False), encoding="utf-8")
