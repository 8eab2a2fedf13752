"""What must be where before a run goes on, and whether it is."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from handfast.execution.cell import Cell
from handfast.execution.nominal import nominal_pose
from handfast.execution.rehearsal import Ready
from handfast.kinematics.chain import Chain
from handfast.model.jaw_limits import WIDTH_OFF
from handfast.model.project import Project
from handfast.spatial import se3

_AWAY = 3e-3  # what is seen further off is not in its place [m]; own choice, no source
_LEANS = math.radians(20)


@dataclass(frozen=True, slots=True)
class Looked:
    """One item. where: in words; right: whether it is there, None if nothing in the cell can tell; how: by
    what it was looked at, and what was found."""

    item: str
    where: str
    right: bool | None
    how: str


def looked(cell: Cell, project: Project, ready: Ready, chains: dict[str, Chain]) -> tuple[Looked, ...]:
    """Every part and tool where it should be: in a hand by the width of the jaws, on a bit by the tool,
    anywhere else by camera."""
    return tuple(_one(cell, project, ready, chains, a.item) for a in ready.scene.attachments)


def _one(cell: Cell, project: Project, ready: Ready, chains: dict[str, Chain], item: str) -> Looked:
    parent = ready.scene.of(item).parent
    kind, _, name = parent.partition(".")
    if kind == "hand":
        width, wanted = cell.state(name).width, ready.widths[name]
        right = abs(width - wanted) <= WIDTH_OFF
        found = f"jaws stand at {width * 1e3:.2f} mm, {wanted * 1e3:.2f} mm with it"
        return Looked(item, f"in the {name} hand", right, found)
    if kind == "tool":
        on = cell.digital_in(f"{name}.retained")
        return Looked(item, f"on the bit of {name}", on, f"{name} says {'yes' if on else 'no'}")
    where = f"in {name}" if kind == "place" else f"in its place on {name}"
    if not project.cell.cameras:
        return Looked(item, where, None, "no camera: look yourself")
    seen = cell.locate(item, parent)
    if seen is None:
        is_part = any(p.name == item for p in project.product.parts)
        how = "not seen by camera" if is_part else "not seen by camera: look yourself"
        return Looked(item, where, False if is_part else None, how)
    # Only what stands on a place or a part is looked at here: where the arms stand does not matter.
    T = nominal_pose(item, ready.scene, project.cell, chains, {a: np.array(q) for a, q in ready.q.items()})
    off = se3.inverse(T) @ seen.matrix
    away, lean = float(np.linalg.norm(off[:3, 3])), math.acos(min(1.0, max(-1.0, float(off[2, 2]))))
    found = f"camera: {away * 1e3:.1f} mm off, leaning {math.degrees(lean):.0f} deg"
    return Looked(item, where, away <= _AWAY and lean <= _LEANS, found)
