"""A recipe written as a project folder, as a user would have it."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import yaml
from manifold3d import Manifold
from tests.planning.generated.drawn import bore, box, volume, write_stl
from tests.planning.generated.pieces import mm
from tests.planning.generated.recipe import Piece, Recipe, Stand

URDF = Path(__file__).parents[3] / "projects" / "first-fit" / "arms" / "arm.urdf"
DENSITY = 2.7e-3
"""Of aluminium [g/mm3]."""


def write_folder(recipe: Recipe, folder: Path) -> Path:
    """The project in `folder`, which is made."""
    for name in ("arms", "meshes"):
        (folder / name).mkdir(parents=True, exist_ok=True)
    shutil.copy(URDF, folder / "arms" / "arm.urdf")
    settings = {"project": recipe.name, "product": "product.yaml", "cell": "cell.yaml", "clearance": "5 mm"}
    _write(folder / "project.yaml", settings)
    parts = {p.name: _part(p, folder) for p in recipe.pieces}
    product = {"base": "base", "order": recipe.order, "parts": parts, "mates": recipe.mates}
    _write(folder / "product.yaml", product)
    _write(folder / "cell.yaml", _cell(recipe, folder))
    return folder


def _write(path: Path, tree: Any) -> None:
    path.write_text(yaml.safe_dump(tree, sort_keys=False))


def _solids(name: str, solid: Manifold, folder: Path) -> list[dict[str, Any]]:
    write_stl(folder / "meshes" / f"{name}.stl", solid)
    return [{"mesh": f"meshes/{name}.stl", "unit": "mm"}]


def _part(piece: Piece, folder: Path) -> dict[str, Any]:
    mass = f"{DENSITY * volume(piece.solid):.1f} g"
    return {"solids": _solids(piece.name, piece.solid, folder), "mass": mass, "features": piece.features}


def _cell(recipe: Recipe, folder: Path) -> dict[str, Any]:
    table = {"box": mm(3000, 1600, 40), "at": {"position": mm(0, 300, -20)}}
    walls = {w.name: {"solids": [_block(w.x, w.y, w.low, w.size)]} for w in recipe.walls}
    return {
        "arms": {name: _arm(x, y) for name, (x, y) in recipe.arms.items()},
        "grippers": {f"{name}_gripper": _gripper(name, recipe.opening) for name in recipe.arms},
        "holders": {s.name: _holder(s, folder) for s in recipe.stands},
        "obstacles": {"table": {"solids": [table]}, **walls},
    }


def _block(x: float, y: float, low: float, size: tuple[float, float, float]) -> dict[str, Any]:
    return {"box": mm(*size), "at": {"position": mm(x, y, low + size[2] / 2)}}


def _arm(x: float, y: float) -> dict[str, Any]:
    return {
        "urdf": "arms/arm.urdf",
        "root": "base",
        "tip": "flange",
        "base": {"position": mm(x, y, 0), "turn": ["0 deg", "0 deg", "90 deg"]},
        "home": ["0 deg", "0 deg", "105 deg", "0 deg", "75 deg", "0 deg"],
        "max_acceleration": [f"{a} deg/s2" for a in (400, 400, 500, 800, 800, 1000)],
        "speed": "60 %",
    }


def _gripper(arm: str, opening: float) -> dict[str, Any]:
    return {
        "arm": arm,
        "mount": {"position": mm(0, 0, 160)},
        "palm": [{"box": mm(50, 100, 90), "at": {"position": mm(0, 0, -115)}}],
        "finger_size": mm(18, 12, 70),
        "zones": [{"name": "tip", "kind": "flat", "start": "0 mm", "end": "30 mm"}],
        "opening": mm(0, opening),
        "force": "90 N",
        "friction": 0.3,
        "close_time": "0.4 s",
    }


def _holder(stand: Stand, folder: Path) -> dict[str, Any]:
    solid = box(stand.size)
    if stand.well:
        solid -= bore(stand.well, stand.size[2], 18.0)
    place: dict[str, Any] = {"at": {"position": mm(0, 0, stand.size[2] + stand.seat)}}
    place |= {"holds": stand.holds} if stand.holds else {}
    return {
        "kind": stand.kind,
        "at": {"position": mm(stand.x, stand.y, 0), "turn": ["0 deg", "0 deg", f"{stand.yaw:g} deg"]},
        "solids": _solids(f"stand_{stand.name}", solid, folder),
        "places": {"spot": place},
    }
