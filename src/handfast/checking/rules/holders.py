"""Everything lies somewhere at the start."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from handfast.checking.case import Case, Rule
from handfast.files.nearest import listed
from handfast.files.position import Path
from handfast.geometry.overlaps import overlap_depths
from handfast.model.finding import Finding
from handfast.model.part import Part
from handfast.model.tool import Tool
from handfast.spatial.se3 import Array

IN_MATERIAL = 0.03e-3
"""Thickness [m] that facets and rounding may make two bodies share; common practice, no source."""


def places(case: Case) -> dict[str, list[str]]:
    """By part or tool: the places that hold it."""
    found: dict[str, list[str]] = {}
    for holder in case.project.cell.holders:
        for place in holder.places:
            if place.holds is not None:
                found.setdefault(place.holds, []).append(f"{holder.name}.{place.name}")
    return found


def nowhere(case: Case) -> Iterator[Finding]:
    """Parts and tools that lie in no holder."""
    if any(path[:2] == ("cell", "holders") for path in case.broken):
        return  # it may lie in one that could not be read
    held = places(case)
    for path, item in case.items():
        if item.name not in held:
            fix = f"add a place with `holds: {item.name}`"
            yield case.finding("in-no-holder", path, "a place that holds it at the start", "none", fix)


def twice(case: Case) -> Iterator[Finding]:
    """Parts and tools that lie in more than one place."""
    for path, item in case.items():
        where = places(case).get(item.name, [])
        if len(where) > 1:
            yield case.finding(
                "held-twice", path, "one place that holds it", listed(where), "keep one of them"
            )


def held_by_reject(case: Case) -> Iterator[Finding]:
    """Places for bad parts that hold something at the start."""
    for holder in case.project.cell.holders:
        for place in holder.places if holder.kind == "reject" else ():
            if place.holds is not None:
                path = ("cell", "holders", holder.name, "places", place.name, "holds")
                fix = f"take `holds` off, and give {place.holds} a place in a tray"
                yield case.finding("reject-holds", path, "an empty place for bad parts", place.holds, fix)


def in_material(case: Case) -> Iterator[Finding]:
    """Parts and tools whose places put them into the material of something else."""
    if any(path[0] in ("cell", "product") for path in case.broken):
        return  # half a body says nothing
    there = tuple(lying(case))
    standing = [(f"holder {h.name}", h.solids, h.pose.matrix) for h in case.project.cell.holders]
    standing += [(f"obstacle {o.name}", o.solids, np.eye(4)) for o in case.project.cell.obstacles]
    bodies = [(solids, pose) for _, solids, pose in standing]
    bodies += [(item.solids, pose) for _, item, pose in there]
    names, first = [name for name, _, _ in standing] + [item.name for _, item, _ in there], len(standing)
    depths = overlap_depths(bodies, case.project.folder, lambda _, k: k >= first, IN_MATERIAL)
    for i, (path, item, _) in enumerate(there, start=first):
        for other in range(i) if depths else ():
            depth = depths.get((other, i), 0.0)
            if depth > IN_MATERIAL:
                found = f"{item.name} {1e3 * depth:.2g} mm deep in {names[other]}"
                fix = "move the place, or check the frame that the part is drawn in"
                yield case.finding("lies-in-material", path, "a place where it lies free", found, fix)


def lying(case: Case) -> Iterator[tuple[Path, Part | Tool, Array]]:
    """What lies somewhere at the start: path of its place, itself, T_world_item."""
    items = {item.name: item for _, item in case.items()}
    for holder in case.project.cell.holders:
        for place in holder.places:
            if place.holds in items:
                path = ("cell", "holders", holder.name, "places", place.name, "at")
                yield path, items[place.holds], holder.pose.matrix @ place.pose.matrix


RULES = (
    Rule(
        "in-no-holder",
        "Every part and tool lies in a tray, nest, presenter or stand at the start.",
        nowhere,
    ),
    Rule(
        "held-twice",
        "Every part and tool lies in one place at the start: there is one of each.",
        twice,
    ),
    Rule(
        "reject-holds",
        "A place for bad parts is empty at the start: what lies there counts as bad and is never taken.",
        held_by_reject,
    ),
    Rule(
        "lies-in-material",
        "What lies in a place may rest on its holder, but not reach into it, nor into anything else there.",
        in_material,
    ),
)
