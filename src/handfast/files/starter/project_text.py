"""The files of a first project: one pin that goes into one block, two arms, a nest and a tray."""

from __future__ import annotations

from typing import Any

from handfast.files.starter.answers import Answers
from handfast.files.starter.cell_text import cell_text
from handfast.files.starter.written import mm, row

GAP = 0.3e-3
"""How much wider than the pin its pocket in the tray is [m]."""
_FLOOR = 12e-3  # of the tray, below the pocket [m]


def pocket_depth(values: dict[str, Any]) -> float:
    """How deep the pin stands in the tray [m]: enough to stand, little enough to grip it."""
    return float(0.4 * values["pin_length"])


def bore_depth(values: dict[str, Any]) -> float:
    """How deep the block is bored [m]: a fifth deeper than the pin goes, or through."""
    return float(min(values["block_size"][2], 1.2 * values["depth"]))


def tray_size(values: dict[str, Any]) -> tuple[float, float, float]:
    """Edges of the tray [m]."""
    wide = values["pin_diameter"] + 40e-3
    return wide, wide, _FLOOR + pocket_depth(values)


def project_texts(name: str, answers: Answers) -> dict[str, str]:
    """The text of each file by its name in the folder; meshes are drawn elsewhere."""
    values = dict(answers.values)
    return {
        "project.yaml": _project(name, answers),
        "product.yaml": _product(values),
        "cell.yaml": cell_text(values, tray_size(values), _FLOOR + values["pin_length"] / 2),
        "errors.yaml": _errors(values),
    }


def _project(name: str, answers: Answers) -> str:
    lines = [f"# Assumed, because nobody knew it: {key}" for key in answers.assumed]
    lines += [
        f"project: {name}",
        "product: product.yaml",
        "cell: cell.yaml",
        "errors: errors.yaml",
        "target: 99 %            # wanted chance that the pin goes in",
        "clearance: 5 mm         # kept from everything in free space",
    ]
    return "\n".join(lines) + "\n"


def _product(v: dict[str, Any]) -> str:
    x, y, z = v["block_size"]
    d, length, depth = v["pin_diameter"], v["pin_length"], v["depth"]
    lead = (
        f",\n             chamfer: {{width: {mm(v['chamfer'])}, angle: 45 deg}}" if v["chamfer"] > 0 else ""
    )
    pin_mass = 7850 * 0.7854 * d * d * length  # steel
    hole = f"diameter: {mm(d)}, fit: {v['bore_fit']}, length: {mm(bore_depth(v))}"
    shaft = f"diameter: {mm(d)}, fit: {v['pin_fit']}, length: {mm(length / 2)}"
    return f"""\
base: block

parts:
  block:                # frame: middle of the underside, z up
    solids: [{{mesh: meshes/block.stl, unit: mm}}]
    mass: {2700e3 * x * y * z:.4g} g          # aluminium
    features:
      bore: {{kind: hole, at: {row(0, 0, z)}, z_along: -z, {hole}{lead}}}
      top:  {{kind: face, at: {row(0, 0, z)}, z_along: +z, size: [{mm(x)}, {mm(y)}]}}
      end:  {{kind: face, at: {row(-x / 2, 0, z / 2)}, z_along: -x, size: [{mm(y)}, {mm(z)}]}}
      side: {{kind: face, at: {row(0, -y / 2, z / 2)}, z_along: -y, size: [{mm(x)}, {mm(z)}]}}

  pin:                  # frame: middle of the pin, z towards its top
    solids: [{{cylinder: {{diameter: {mm(d)}, length: {mm(length)}}}}}]
    mass: {1e3 * pin_mass:.4g} g          # steel
    features:
      tip: {{kind: shaft, at: {row(0, 0, -length / 2)}, z_along: -z, {shaft}}}
      top: {{kind: shaft, at: {row(0, 0, length / 2)}, z_along: +z, {shaft}}}

mates:
  pin-in-bore:
    kind: insert
    part: pin
    into: block
    pairs: [{{moving: tip, fixed: block.bore, depth: {mm(depth)}}}]
    free_roll: true
    force_limit: 50 N
"""


def _errors(v: dict[str, Any]) -> str:
    nest, pocket = (
        "unknown"
        if v[key] is None
        else f"[{mm(v[key])}, {mm(v[key])}, {mm(v[key] / 4)}, 0.1 deg, 0.1 deg, 0.1 deg]"
        for key in ("nest_error", "pocket_error")
    )
    repeats = f"[{', '.join([mm(v['arm_repeatability'] / 3)] * 3)}, 0.002 deg, 0.002 deg, 0.002 deg]"
    arms = "".join(
        f"""\
  {arm} arm against the table:
    {{acts_on: arm.{arm}.base, changes: installation, sigma: unknown}}
  {arm} arm repeats:
    {{acts_on: arm.{arm}.tip, changes: cycle, sigma: {repeats}}}
  {arm} jaws:
    {{acts_on: gripper.{arm}_gripper.jaw, changes: shift, sigma: unknown}}
"""
        for arm in ("left", "right")
    )
    return f"""\
# How far off everything may be. sigma: x, y, z, then turns about x, y, z, in the frame named; or unknown.
sources:
  nest on the table:
    {{acts_on: holder.nest, changes: shift, sigma: {nest}}}
  pin in its pocket:
    {{acts_on: place.tray.pocket, changes: part, sigma: {pocket}}}
{arms}"""
