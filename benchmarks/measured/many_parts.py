"""A product of many parts, drawn by a seed: pins of two sizes in a plate, brought from two trays."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import Any

import numpy as np
import yaml
from measured.results import PROJECTS

sys.path.insert(0, str(PROJECTS))
from drawing import bore, box, pointed, write_stl  # type: ignore[import-not-found]

PITCH = 26.0  # of holes and of waiting pins: a finger of 8 fits between two pins [mm]
THICK, DEEP = 20.0, 14.0  # of the plate, of its holes [mm]
STANDS = 8.0  # how deep a waiting pin stands in its tray [mm]
SEAT = 450.0  # how far the plate lies before the arms [mm]
ARMS = (-500.0, 500.0)  # where they stand, each beside its tray [mm]
REACH = 830.0  # of an arm that holds a pin upright over its hole [mm]
PINS = {"a": (5.0, 34.0), "b": (6.0, 40.0)}  # diameter, length [mm]


def write_many(folder: Path, parts: int, seed: int) -> Path:
    """A project of so many parts (the plate is one) in the pump's cell, in `folder`, which is made."""
    rng = np.random.default_rng(seed)
    pins = parts - 1
    kinds = [str(rng.choice(list(PINS))) for _ in range(pins)]
    holes = _grid(pins, 15)
    waiting = [_grid((pins + 1) // 2, 8), _grid(pins // 2, 8)]
    (folder / "meshes").mkdir(parents=True)
    shutil.copytree(PROJECTS / "dosing-pump" / "arms", folder / "arms")
    order = _within_reach(rng.permutation(pins), holes, rng)  # which hole each pin goes to
    solid = {"plate": _plate(holes, [kinds[int(np.where(order == k)[0][0])] for k in range(pins)])}
    solid |= {f"pin_{k}": _pin(*size) for k, size in PINS.items()}
    solid |= {f"tray_{s}": _tray(spots, kinds[s::2]) for s, spots in enumerate(waiting)}
    for name, one in solid.items():
        write_stl(folder / "meshes" / f"{name}.stl", one.mesh)
    files = {"product": "product.yaml", "cell": "cell.yaml"}
    _write(folder / "project.yaml", {"project": f"pins-{parts}", **files, "clearance": "5 mm"})
    _write(folder / "product.yaml", _product(kinds, holes, order))
    _write(folder / "cell.yaml", _cell(kinds, waiting))
    return folder


def _grid(count: int, across: int) -> list[tuple[float, float]]:
    left, front = (across - 1) / 2, (-(-count // across) - 1) / 2
    return [((k % across - left) * PITCH, (k // across - front) * PITCH) for k in range(count)]


def _within_reach(order: Any, holes: list[tuple[float, float]], rng: Any) -> Any:
    """The same with holes that the arm beside a pin's tray does not reach left to pins of the other tray."""

    def reached(hole: int, side: int) -> bool:
        x, y = holes[hole][0] - ARMS[side], holes[hole][1] + SEAT
        return bool(np.hypot(x, y) <= REACH)

    for k in range(len(order)):
        while not reached(order[k], k % 2):
            other = int(rng.integers(len(order)))
            if reached(order[other], k % 2) and reached(order[k], other % 2):
                order[[k, other]] = order[[other, k]]
    return order


def _size(spots: list[tuple[float, float]], high: float) -> tuple[float, float, float]:
    x, y = (2 * max(abs(s[i]) for s in spots) + PITCH for i in (0, 1))
    return (x, y, high)


def _plate(holes: list[tuple[float, float]], kinds: list[str]) -> Any:
    solid = box(_size(holes, THICK), (0, 0, THICK / 2))
    for (x, y), kind in zip(holes, kinds, strict=True):
        solid -= bore(PINS[kind][0], THICK, DEEP, 0.5).translate((x, y, 0))
    return solid


def _pin(diameter: float, length: float) -> Any:
    half = pointed(diameter, -0.5, length / 2, 0.5)
    return half + half.rotate((180, 0, 0))


def _tray(spots: list[tuple[float, float]], kinds: list[str]) -> Any:
    solid = box(_size(spots, 30), (0, 0, 15))
    for (x, y), kind in zip(spots, kinds, strict=True):
        solid -= bore(PINS[kind][0] + 0.3, 30, STANDS).translate((x, y, 0))
    return solid


def _mm(*values: float) -> list[str]:
    return [f"{v:g} mm" for v in values]


def _product(kinds: list[str], holes: list[tuple[float, float]], order: Any) -> dict[str, Any]:
    chamfer = {"width": "0.5 mm", "angle": "45 deg"}
    plate: dict[str, Any] = {}
    parts: dict[str, Any] = {}
    mates: dict[str, Any] = {}
    for k, kind in enumerate(kinds):
        diameter, length = PINS[kind]
        x, y = holes[int(order[k])]
        size = {"diameter": f"{diameter:g} mm", "chamfer": chamfer}
        plate[f"hole_{k}"] = {"kind": "hole", "at": _mm(x, y, THICK), "z_along": "-z", "fit": "G7",
                              "length": f"{DEEP:g} mm", **size}  # fmt: skip
        tip = {"kind": "shaft", "at": _mm(0, 0, -length / 2), "z_along": "-z", "fit": "h6",
               "length": f"{length / 2:g} mm", "grip": False, **size}  # fmt: skip
        top = {"kind": "shaft", "at": _mm(0, 0, length / 2), "z_along": "+z", "fit": "h6",
               "length": f"{length / 2 - 4:g} mm", **size}  # fmt: skip
        parts[f"pin_{k}"] = {"solids": [{"mesh": f"meshes/pin_{kind}.stl", "unit": "mm"}], "mass": "6 g",
                             "features": {"tip": tip, "top": top}}  # fmt: skip
        pair = {"moving": "tip", "fixed": f"plate.hole_{k}", "depth": f"{DEEP - 2:g} mm"}
        mates[f"pin-{k}"] = {
            "kind": "insert",
            "part": f"pin_{k}",
            "into": "plate",
            "free_roll": True,
            "pairs": [pair],
        }
    whole = {"solids": [{"mesh": "meshes/plate.stl", "unit": "mm"}], "mass": "900 g", "features": plate}
    return {"base": "plate", "parts": {"plate": whole, **parts}, "mates": mates}


def _cell(kinds: list[str], waiting: list[list[tuple[float, float]]]) -> dict[str, Any]:
    pump = yaml.safe_load((PROJECTS / "dosing-pump" / "cell.yaml").read_text(encoding="utf-8"))
    out: dict[str, Any] = {k: pump[k] for k in ("arms", "grippers", "obstacles", "controller")}
    for gripper in out["grippers"].values():
        gripper["zones"][1]["diameters"] = _mm(3, 12)
    seat = {"solids": [{"box": _mm(60, 60, 40), "at": {"position": _mm(0, 0, 20)}}], "kind": "nest",
            "at": {"position": _mm(0, SEAT, 0)},
            "places": {"seat": {"at": {"position": _mm(0, 0, 40)}, "holds": "plate"}}}  # fmt: skip
    out["holders"] = {"nest": seat}
    for side, (spots, x) in enumerate(zip(waiting, (-330.0, 330.0), strict=True)):
        places = {}
        for i, (px, py) in enumerate(spots):
            k = 2 * i + side
            up = 30 - STANDS + PINS[kinds[k]][1] / 2
            places[f"pin_{k}"] = {"at": {"position": _mm(px, py, up)}, "holds": f"pin_{k}"}
        tray = {"kind": "tray", "at": {"position": _mm(x, 430, 0)}, "places": places}
        out["holders"][f"tray_{side}"] = {
            **tray,
            "solids": [{"mesh": f"meshes/tray_{side}.stl", "unit": "mm"}],
        }
    return out


def _write(path: Path, tree: Any) -> None:
    path.write_text(yaml.safe_dump(tree, sort_keys=False), encoding="utf-8")
