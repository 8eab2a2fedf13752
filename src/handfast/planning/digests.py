"""Digests of all that planning reads of a project, thing by thing."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

from handfast.files.inputs import hashed
from handfast.model.arm import Arm
from handfast.model.cell import Cell
from handfast.model.economy import Economy
from handfast.model.product import Product
from handfast.model.project import Project
from handfast.model.shape import Mesh, Solid
from handfast.model.touch_demand import TouchDemand

_WRITTEN = (".yaml", ".yml")  # files that are read into records, which have digests of their own


class _Files:
    """What is in the files of a project, by their sha256."""

    def __init__(self, project: Project) -> None:
        self.known, self._folder = {f.path: f.sha256 for f in project.inputs}, Path(project.folder)

    def sha256(self, path: str) -> str:
        """As it was when the project was read; of a project that was made in memory, as it is."""
        if path not in self.known:
            self.known |= {f.path: f.sha256 for f in hashed(self._folder, (path,))}
        return self.known.get(path, "")


def digests(project: Project, demands: tuple[TouchDemand, ...] = ()) -> dict[str, str]:
    """sha256 by name: "part P" and "tool T" with all that is written of them, "shape X" of either,
    "feature P.F", "place H.P" (where it is in the world), "holder H" and "obstacle O" (shape and place),
    "arm A" with its gripper, "mate M" with what is demanded for it, "pattern P", and "rules" for all else.

    A mesh counts by what is in its file. Errors, cameras and what belongs to the making of costs are not
    read by planning.
    """
    files = _Files(project)
    cell, product = project.cell, project.product
    out = {"rules": _rules(project)}
    for part in product.parts:
        out[f"part {part.name}"] = _digest(part, _meshes(part.solids, files))
        out[f"shape {part.name}"] = _shape(part.solids, files)
        out |= {f"feature {part.name}.{f.name}": _digest(f) for f in part.features}
    for tool in cell.tools:
        out[f"tool {tool.name}"] = _digest(tool, _meshes(tool.solids, files))
        out[f"shape {tool.name}"] = _shape(tool.solids, files)
    for holder in cell.holders:
        stands = [float(v) for v in holder.pose.matrix.ravel()]
        out[f"holder {holder.name}"] = _digest(holder.kind, stands, _shape(holder.solids, files))
        for place in holder.places:
            at = [float(v) for v in (holder.pose.matrix @ place.pose.matrix).ravel()]
            out[f"place {holder.name}.{place.name}"] = _digest(at)
    out |= {f"obstacle {o.name}": _shape(o.solids, files) for o in cell.obstacles}
    others = _of_arms(project, files)
    out |= {f"arm {arm.name}": _arm(cell, arm, files, others) for arm in cell.arms}
    for mate in product.mates:
        asked = [d for d in demands if d.mate == mate.name]
        out[f"mate {mate.name}"] = _digest(mate, asked)
    return out | {f"pattern {t.name}": _digest(t) for t in product.tightenings}


def _rules(project: Project) -> str:
    """What every motion depends on, or who comes before whom: the controller, the clearance, the order."""
    product: Product = replace(project.product, parts=(), mates=(), tightenings=())
    cell: Cell = replace(
        project.cell, arms=(), grippers=(), tools=(), holders=(), obstacles=(), cameras=(), force_sensors=(),
        artefacts=(),
    )  # fmt: skip
    bare = replace(
        project, name="", folder="", product=product, cell=cell, errors=(), inputs=(), target=0.0,
        economy=Economy(),
    )  # fmt: skip
    return _digest(bare)


def _arm(cell: Cell, arm: Arm, files: _Files, others: list[str]) -> str:
    gripper = replace(cell.gripper_of(arm.name), width_noise=0.0)
    arm = replace(arm, repeatability=0.0, measured_from="")  # errors: not read
    felt = [s for s in cell.force_sensors if s.arm == arm.name]
    described = files.sha256(arm.urdf) if arm.urdf else ""
    return _digest(arm, gripper, _meshes(gripper.palm, files), described, felt, others)


def _of_arms(project: Project, files: _Files) -> list[str]:
    """The files that no record names: the meshes of arms, which their descriptions name."""
    cell = project.cell
    solids = [s for part in project.product.parts for s in part.solids]
    solids += [s for tool in cell.tools for s in tool.solids]
    solids += [s for holder in cell.holders for s in holder.solids]
    solids += [s for obstacle in cell.obstacles for s in obstacle.solids]
    solids += [s for g in cell.grippers for s in g.palm]
    named = {s.shape.path for s in solids if isinstance(s.shape, Mesh)} | {a.urdf for a in cell.arms}
    return sorted(
        sha for path, sha in files.known.items() if path not in named and not path.endswith(_WRITTEN)
    )


def _shape(solids: tuple[Solid, ...], files: _Files) -> str:
    return _digest(solids, _meshes(solids, files))


def _meshes(solids: tuple[Solid, ...], files: _Files) -> list[str]:
    return [files.sha256(s.shape.path) for s in solids if isinstance(s.shape, Mesh)]


def _digest(*read: object) -> str:
    """Of frozen records, numbers and texts, each as the shortest text that reads back as itself."""
    return hashlib.sha256(repr(read).encode()).hexdigest()
