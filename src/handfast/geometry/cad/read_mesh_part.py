"""A mesh file -> an assembly of one part, its faces made out of facets."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from handfast.geometry.cad.assembly import Assembly, Drawing, Instance
from handfast.geometry.cad.cad_error import CadError
from handfast.geometry.cad.mesh_graph import OpenMeshError, mesh_graph
from handfast.geometry.mesh import ENDINGS, declared_unit, read_mesh
from handfast.geometry.mesh_error import MeshError
from handfast.spatial.units import DIMENSIONS

Progress = Callable[[str, int, int], None]
MOST = 200_000
"""Facets. Beyond, grouping takes minutes; a part with that many is better drawn again."""
_SMALLEST, _LARGEST = 0.1e-3, 10.0
"""Sizes of parts that a wrong unit is told by [m]; common practice, no source."""


def is_mesh(path: str | Path) -> bool:
    """By its ending."""
    return Path(path).suffix.lower() in ENDINGS


def read_mesh_part(path: str | Path, unit: str | None = None, progress: Progress | None = None) -> Assembly:
    """unit: such as "mm", of formats that state none, or to say it better. Raises CadError."""
    said = progress or (lambda _what, _done, _of: None)
    if unit is not None and unit not in DIMENSIONS["length"]:
        known = ", ".join(DIMENSIONS["length"])
        raise CadError(f"--unit: expected one of {known}, found {unit!r}")
    said("reading", 0, 2)
    notes = []
    try:
        declared = declared_unit(path)
        if unit is None and declared is None:
            ending = Path(path).suffix[1:].upper()
            notes.append(f"{ending} states no unit: taken as mm; if it is another, say so with --unit")
        scale = DIMENSIONS["length"][unit] if unit is not None else declared or DIMENSIONS["length"]["mm"]
        vertices, triangles = read_mesh(path, scale)
    except MeshError as error:
        raise CadError(str(error)) from error
    size = float((vertices.max(axis=0) - vertices.min(axis=0)).max())
    if not _SMALLEST <= size <= _LARGEST:
        raise CadError(
            f"{path}: expected a part between 0.1 mm and 10 m, found one of {1e3 * size:.4g} mm; "
            "say its unit with --unit"
        )
    if len(triangles) > MOST:
        raise CadError(
            f"{path}: expected at most {MOST} facets, found {len(triangles)}; export it coarser, or as STEP"
        )
    said(f"faces of {len(triangles)} facets", 1, 2)
    try:
        graph = mesh_graph(vertices, triangles)
    except OpenMeshError as error:
        raise CadError(
            f"{path}: expected a mesh that encloses a body, found that it does not: {error}; repair it where "
            "it was made, and export it again"
        ) from error
    name = Path(path).stem
    return Assembly(name, "", (Drawing(name, None, graph),), (Instance(name, 0, np.eye(4)),), tuple(notes))
