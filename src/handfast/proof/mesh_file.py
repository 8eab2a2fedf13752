"""Triangles from mesh files: STL by the proof's own reader, the rest by the collision library's importer."""

from __future__ import annotations

from pathlib import Path

import coal
import numpy as np

from handfast.proof.stl import Array, MeshError, Triangles, merged, read_stl

IMPORTED = (".obj", ".ply", ".glb", ".3mf")


def read_mesh_file(path: Path, scale: float) -> tuple[Array, Triangles]:
    """Vertices (v, 3) [m] and triangles (t, 3); scale: file unit -> m. Raises MeshError, OSError."""
    ending = path.suffix.lower()
    if ending == ".stl":
        return read_stl(path, scale)
    if ending not in IMPORTED:
        raise MeshError(f"{path}: expected .stl, {', '.join(IMPORTED)}, found {ending or 'no ending'}")
    if not path.is_file():
        raise FileNotFoundError(2, "No such file or directory", str(path))
    try:
        model = coal.MeshLoader().load(str(path), np.full(3, scale))
    except (ValueError, RuntimeError) as error:
        raise MeshError(f"{path}: expected a mesh, found: {error}") from error
    index = [model.tri_indices(i) for i in range(model.num_tris)]
    vertices = np.array(model.vertices(), dtype=np.float64)
    if not index or not np.isfinite(vertices).all():
        raise MeshError(f"{path}: expected triangles with finite corners, found none")
    corners = vertices[np.array([[t[0], t[1], t[2]] for t in index], dtype=np.int64)]
    return merged(corners)
