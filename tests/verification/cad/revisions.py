"""Thirty revisions of a drawn rig, and a project with hand edits that they are merged into."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import yaml
from tests.geometry.cad.step_writer import write_step
from tests.verification.cad.assemblies import Drawn, Rig, rig

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.mates.home import assembled_poses
from handfast.model.product import Product
from handfast.workflow.from_cad.written_feature import length
from handfast.workflow.new_from_cad import new_from_cad
from handfast.workflow.update_from_cad import Updated, update_from_cad

RIG = Rig()
PINS, SCREWS = RIG.pins, RIG.screws


def _put(
    places: tuple[tuple[float, float], ...], k: int, x: float, y: float
) -> tuple[tuple[float, float], ...]:
    return (*places[:k], (x, y), *places[k + 1 :])


REVISIONS: dict[str, Rig] = {
    "nothing": RIG,
    "pin moved 1 mm": replace(RIG, pins=_put(PINS, 0, -32, 0)),
    "pin moved 3 mm": replace(RIG, pins=_put(PINS, 0, -33, 3)),
    "other pin moved": replace(RIG, pins=_put(PINS, 1, 30, 4)),
    "pins exchanged along y": replace(RIG, pins=((-33.0, 4.0), (33.0, 0.0))),
    "both pins moved alike": replace(RIG, pins=((-31.0, 1.0), (35.0, 5.0))),
    "screw moved": replace(RIG, screws=_put(SCREWS, 2, 31, 17)),
    "all screws moved alike": replace(RIG, screws=tuple((x, y - 1.0) for x, y in SCREWS)),
    "screws drawn in": replace(RIG, screws=tuple((x * 0.9, y) for x, y in SCREWS)),
    "bush moved": replace(RIG, bush=(2.0, 1.0)),
    "bush wider": replace(RIG, bush_diameter=13.0),
    "bush wider and moved": replace(RIG, bush_diameter=13.0, bush=(1.0, 0.0)),
    "extra hole moved": replace(RIG, extra=((-14.0, -15.0, 6.2),)),
    "extra hole resized": replace(RIG, extra=((-15.0, -15.0, 6.6),)),
    "extra hole gone": replace(RIG, extra=()),
    "extra hole like another": replace(RIG, extra=((-15.0, -15.0, 6.2), (15.0, -15.0, 6.2))),
    "extra hole like a pin's": replace(RIG, extra=((-15.0, -15.0, 6.2), (-25.0, 8.0, 5.0))),
    "extra hole beside a pin's": replace(RIG, extra=((-15.0, -15.0, 6.2), (-33.0, 7.0, 5.0))),
    "two extra holes": replace(RIG, extra=((-15.0, -15.0, 6.2), (18.0, 15.0, 3.1), (20.0, -12.0, 7.1))),
    "a screw fewer": replace(RIG, screws=SCREWS[:3]),
    "a screw more": replace(RIG, screws=(*SCREWS, (0.0, 20.0))),
    "thicker": replace(RIG, thick=24.0),
    "thinner": replace(RIG, thick=18.0),
    "pins thicker": replace(RIG, pin=6.0),
    "screws M5": replace(RIG, thread="M5"),
    "block renamed": replace(RIG, names=(("block", "housing"),)),
    "cover renamed": replace(RIG, names=(("cover", "lid"),)),
    "screws renamed": replace(RIG, names=tuple((f"screw_{k}", f"bolt_{k}") for k in (1, 2, 3, 4))),
    "mirrored": replace(RIG, mirrored=True),
    "renamed and moved": replace(RIG, names=(("bush", "bearing"),), bush=(0.0, 2.0)),
}


def drawn(path: Path, made: Drawn) -> Path:
    return write_step(path, made.name, made.placed())


def with_hand_edits(folder: Path) -> Path:
    """The project with the block weighed, the first dowel hole renamed with another fit, a torque set, a
    remark."""
    new_from_cad(folder / "rig", drawn(folder / "rig.step", rig(RIG)))
    path = folder / "rig" / "product.yaml"
    text = path.read_text()
    hole = _hole_at(yaml.safe_load(text), "block", *PINS[0])
    text = text.replace(f"{hole}: ", "dowel_a: ", 1).replace(f"block.{hole},", "block.dowel_a,")
    text = text.replace("fit: E8", "fit: G7", 1)  # that of the first dowel hole: it stands first
    text = text.replace("torque: 1.9 N m", "torque: 1.5 N m    # as the fitter says", 1)
    text = text.replace("    mass: ", "    # weighed on the bench scale\n    mass: ", 1)
    path.write_text(text)
    tree = yaml.safe_load(text)
    assert tree["parts"]["block"]["features"]["dowel_a"]["fit"] == "G7"
    assert isinstance(check_folder(folder / "rig"), CheckedProject)
    return folder / "rig"


def _hole_at(tree: dict[str, Any], part: str, x: float, y: float) -> str:
    for name, f in tree["parts"][part]["features"].items():
        if f["kind"] == "hole" and np.allclose([1e3 * length(v) for v in f["at"][:2]], [x, y], atol=1e-3):
            return str(name)
    raise KeyError((x, y))


def revise(edited: Path, tmp_path: Path, new: Rig) -> tuple[Updated, Path]:
    folder = tmp_path / "rig"
    shutil.copytree(edited, folder)
    return update_from_cad(folder, drawn(tmp_path / "new.step", rig(new))), folder


def holds(edited: Path, tmp_path: Path, name: str) -> None:
    """Merge one revision and look at what came of it. Raises AssertionError."""
    new = REVISIONS[name]
    updated, folder = revise(edited, tmp_path, new)
    text = (folder / "product.yaml").read_text()
    tree = yaml.safe_load(text)
    kept_or_told(tree, text, updated)
    checked = check_folder(folder)
    if not isinstance(
        checked, CheckedProject
    ):  # only a fit that a person set, or a place to be written, may be wrong
        assert {f.rule for f in checked} & {
            "diameters-cannot-fit",
            "thread-mismatch",
            "screw-tool",
            "in-no-holder",
        }
        return
    told = any("block.dowel_a" in q for q in updated.questions)
    stands_as_drawn(checked.project.product, new, tree, told)


def kept_or_told(tree: dict[str, Any], text: str, updated: Updated) -> None:
    """Every hand edit is still there, or is named in a conflict."""
    told = " ".join(".".join(c.path) for c in updated.conflicts) + " ".join(updated.questions)
    features = tree["parts"]["block"]["features"]
    assert features.get("dowel_a", {}).get("fit") == "G7" or "dowel_a" in told
    assert "torque: 1.5 N m    # as the fitter says" in text or "torque" in told
    assert "# weighed on the bench scale" in text


def stands_as_drawn(product: Product, new: Rig, tree: dict[str, Any], told: bool) -> None:
    """Every part is where the revised drawing has it, and the renamed hole is the first pin's or none."""
    made = rig(new)
    poses = assembled_poses(product)
    names = dict(zip((n for n, _, _ in rig(replace(new, names=())).parts), made.parts, strict=True))
    for name, (called, _, T) in names.items():
        part = name if name in poses else called
        if part in poses and part not in ("screw", "bush"):
            np.testing.assert_allclose(1e3 * poses[part][:3, 3], T[:3, 3], atol=1e-3, err_msg=part)
    dowel = tree["parts"]["block"]["features"].get("dowel_a")
    if dowel is not None and not told:
        side = -1.0 if new.mirrored else 1.0
        at = [1e3 * length(v) for v in dowel["at"][:2]]
        first = min(new.pins, key=lambda p: p[0])
        assert np.allclose(at, [side * first[0], first[1]], atol=1e-3)
