"""Shapes: meshes that are closed, bodies of a size that a hand can take."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path as FilePath

import numpy as np

from handfast.checking.case import Case, Rule
from handfast.files.position import Path
from handfast.geometry.mesh import MeshError, Triangles, declared_unit, read_mesh
from handfast.model.finding import Finding
from handfast.model.shape import Mesh, Solid
from handfast.spatial import units as unit_table
from handfast.spatial.se3 import Array

UNITS = {unit: unit_table.DIMENSIONS["length"][unit] for unit in ("mm", "m", "cm", "in")}

SMALLEST, LARGEST = 0.5e-3, 1.5
"""Longest edge [m] of the box around a mesh: what tabletop assembly handles; common practice, no source."""


def bodies(case: Case) -> Iterator[tuple[Path, tuple[Solid, ...]]]:
    """Every body that is written with solids."""
    for path, item in case.items():
        yield path, item.solids
    for holder in case.project.cell.holders:
        yield ("cell", "holders", holder.name), holder.solids
    for arm in case.project.cell.arms:
        for hose in arm.hoses:
            yield ("cell", "arms", arm.name, "hoses", hose.name), hose.solids
    for gripper in case.project.cell.grippers:
        yield ("cell", "grippers", gripper.name), gripper.palm
    for obstacle in case.project.cell.obstacles:
        yield ("cell", "obstacles", obstacle.name), obstacle.solids


def meshes(case: Case) -> Iterator[tuple[Path, Mesh]]:
    """Every mesh that is named, with its path in the files."""
    for path, solids in bodies(case):
        key = "palm" if path[1] == "grippers" else "solids"
        for i, solid in enumerate(solids):
            if isinstance(solid.shape, Mesh):
                yield (*path, key, str(i), "mesh"), solid.shape


def unreadable(case: Case) -> Iterator[Finding]:
    """Meshes that cannot be read."""
    for path, mesh in meshes(case):
        if _mesh(case, mesh) is None:
            yield case.finding("mesh-unreadable", path, "a mesh that can be read", _problem(case, mesh))


def units(case: Case) -> Iterator[Finding]:
    """Meshes whose file states another unit than is written beside them."""
    for path, mesh in meshes(case):
        if _mesh(case, mesh) is None:
            continue
        stated = declared_unit(FilePath(case.project.folder) / mesh.path)
        if stated is not None and not math.isclose(stated, mesh.scale):
            at = (*path[:-1], "unit")
            unit = next((u for u, size in UNITS.items() if math.isclose(size, stated)), "")
            expected = f"the unit that the file states, {stated:g} m"
            fix = f"write `unit: {unit}`" if unit else "export it in mm"
            yield case.finding("mesh-unit", at, expected, f"{mesh.scale:g} m", fix)


def open_meshes(case: Case) -> Iterator[Finding]:
    """Meshes whose faces do not close around material."""
    for path, mesh in meshes(case):
        read = _mesh(case, mesh)
        if read is None:
            continue
        count = open_edges(read[1])
        if count:
            found = f"{count} edges that do not join two faces running the same way round"
            yield case.finding(
                "mesh-open", path, "a closed mesh", found, "export it as a solid, not a surface"
            )
        elif _volume(*read) <= 0:
            fix = "turn its faces over"
            yield case.finding("mesh-open", path, "faces that look outward", "faces that look inward", fix)


def open_edges(triangles: Triangles) -> int:
    """How many directed edges lack exactly one partner running the other way. triangles: (m, 3)."""
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    number = int(triangles.max()) + 1
    forward, back = edges[:, 0] * number + edges[:, 1], edges[:, 1] * number + edges[:, 0]
    # Sorted and looked up by hand: numpy's own tests of membership load its masked arrays, 40 ms of a start.
    forward = np.sort(forward)
    twice = int(np.sum(forward[1:] == forward[:-1]))
    there = forward[np.minimum(np.searchsorted(forward, back), len(forward) - 1)] == back
    return twice + int(np.sum(~there))


def sizes(case: Case) -> Iterator[Finding]:
    """Bodies that are implausibly large or small, most often metres for millimetres."""
    for path, mesh in meshes(case):
        read = _mesh(case, mesh)
        if read is None or len(read[0]) == 0:
            continue
        longest = float(np.max(np.ptp(read[0], axis=0)))
        if not SMALLEST <= longest <= LARGEST:
            expected = f"a body between {1e3 * SMALLEST:g} mm and {1e3 * LARGEST:g} mm long"
            fix = "check `unit`" if longest > LARGEST else "check `unit`: was the mesh drawn in m or inches?"
            yield case.finding(
                "implausible-size", (*path[:-1], "unit"), expected, f"{1e3 * longest:.4g} mm", fix
            )


def masses(case: Case) -> Iterator[Finding]:
    """Parts lighter than foam or heavier than tungsten for their volume."""
    for part in case.project.product.parts:
        reads = [_mesh(case, s.shape) if isinstance(s.shape, Mesh) else None for s in part.solids]
        volume = sum(_volume(*r) for r in reads if r is not None)
        if None in reads or volume <= 0:
            continue
        density = part.mass / volume
        if not 20 <= density <= 20_000:
            path = ("product", "parts", part.name, "mass")
            expected = "a mass that suits its volume (0.02 to 20 g/cm3)"
            yield case.finding(
                "implausible-mass", path, expected, f"{density / 1e3:.3g} g/cm3", "", "warning"
            )


def _mesh(case: Case, mesh: Mesh) -> tuple[Array, Triangles] | None:
    try:
        return read_mesh(FilePath(case.project.folder) / mesh.path, mesh.scale)
    except MeshError:
        return None  # `unreadable` tells of it


def _problem(case: Case, mesh: Mesh) -> str:
    try:
        read_mesh(FilePath(case.project.folder) / mesh.path, mesh.scale)
    except MeshError as error:
        return str(error).partition("expected ")[2] or str(error)
    return ""


def _volume(vertices: Array, triangles: Triangles) -> float:
    a, b, c = (vertices[triangles[:, i]] for i in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


RULES = (
    Rule(
        "mesh-unreadable",
        "A mesh is an STL or PLY (binary or text), an OBJ, a GLB or a 3MF, with finite coordinates.",
        unreadable,
    ),
    Rule(
        "mesh-unit",
        "GLB files are in metres and 3MF files state their unit: what is written beside them says the same.",
        units,
    ),
    Rule(
        "mesh-open",
        "A mesh must close around its material, faces looking outward: distances, grasps and contact "
        "depend on knowing inside from outside.",
        open_meshes,
    ),
    Rule(
        "implausible-size",
        "A body is between 0.5 mm and 1.5 m long. A mesh drawn in mm but read in m is a thousand "
        "times too large.",
        sizes,
    ),
    Rule("implausible-mass", "Mass over drawn volume is a density that materials have.", masses),
)
