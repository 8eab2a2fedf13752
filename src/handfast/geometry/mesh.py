"""Triangle meshes from files."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handfast.geometry.glb import read_glb
from handfast.geometry.mesh_error import MeshError
from handfast.geometry.ply import read_ply
from handfast.geometry.three_mf import declared_unit as three_mf_unit
from handfast.geometry.three_mf import read_three_mf
from handfast.model.shape import Box, Cylinder, Mesh, Shape, Solid
from handfast.spatial.se3 import Array

Triangles = NDArray[np.int64]
__all__ = ["ENDINGS", "MeshError", "Triangles", "declared_unit", "is_closed", "read_mesh", "surface_points"]


def read_mesh(path: str | Path, scale: float = 1.0) -> tuple[Array, Triangles]:
    """Vertices (n, 3) [m] and triangles (m, 3), outward by the right-hand rule; scale: file unit -> m.

    Equal vertices are joined. STL and PLY (binary and text), OBJ, GLB and 3MF. Raises MeshError.
    """
    vertices, triangles = _read(str(path), Path(path).stat().st_mtime_ns if Path(path).exists() else 0)
    return vertices * scale, triangles


@lru_cache(maxsize=256)
def _read(path: str, _modified: int) -> tuple[Array, Triangles]:
    try:
        data = Path(path).read_bytes()
    except OSError as error:
        raise MeshError(f"{path}: expected a mesh, cannot be read: {error.strerror}") from error
    ending = Path(path).suffix.lower()
    if ending not in _READERS:
        known = f"{', '.join(ENDINGS[:-1])} or {ENDINGS[-1]}"
        raise MeshError(f"{path}: expected a mesh ending in {known}, found {ending or 'no ending'}")
    corners = _READERS[ending](path, data)
    if not np.all(np.isfinite(corners)):
        raise MeshError(f"{path}: expected finite coordinates, found NaN or infinity")
    return _joined(corners.reshape(-1, 3))


def _joined(corners: Array) -> tuple[Array, Triangles]:
    """Each vertex (n, 3) once, sorted by x, y, z, and the triangles (m, 3) between them."""
    order = np.lexsort(corners.T[::-1])
    rows = corners[order]
    new = np.concatenate([[True], np.any(rows[1:] != rows[:-1], axis=1)])[: len(rows)]
    index = np.empty(len(rows), dtype=np.int64)
    index[order] = np.cumsum(new) - 1
    return rows[new], index.reshape(-1, 3)


def _stl(path: str, data: bytes) -> Array:
    if len(data) >= 84:
        count = int.from_bytes(data[80:84], "little")
        if len(data) == 84 + 50 * count and count:
            body = np.frombuffer(data, dtype=np.uint8, offset=84).reshape(count, 50)
            return body[:, 12:48].copy().view("<f4").reshape(count, 3, 3).astype(np.float64)
    if data.lstrip().startswith(b"solid"):
        words = data.split()
        numbers = [words[i + 1 : i + 4] for i, word in enumerate(words) if word == b"vertex"]
        try:
            corners = np.array(numbers, dtype=np.float64)
        except ValueError as error:
            raise MeshError(f"{path}: expected three numbers after each 'vertex'") from error
        if corners.size and corners.shape[0] % 3 == 0:
            return corners.reshape(-1, 3, 3)
    raise MeshError(
        f"{path}: expected an STL file with at least one triangle, found {len(data)} bytes that are none"
    )


def _obj(path: str, data: bytes) -> Array:
    vertices: list[list[float]] = []
    faces: list[list[int]] = []
    for number, line in enumerate(data.decode("utf-8", "replace").splitlines(), 1):
        words = line.split()
        try:
            if words and words[0] == "v":
                x, y, z = (float(w) for w in words[1:4])
                vertices.append([x, y, z])
            elif words and words[0] == "f":
                first, second, third, *others = (_corner(w, len(vertices)) for w in words[1:])
                faces += [[first, a, b] for a, b in pairwise([second, third, *others])]
        except ValueError as error:
            raise MeshError(f"{path}, line {number}: expected a vertex or a face, found {line!r}") from error
    points, triangles = np.array(vertices, dtype=np.float64), np.array(faces, dtype=np.int64)
    if not triangles.size or triangles.max() >= len(points):
        raise MeshError(f"{path}: expected an OBJ file with at least one triangle between its vertices")
    return np.asarray(points[triangles])


def _corner(word: str, count: int) -> int:
    """Row of the vertex of one corner "v/vt/vn", which counts from 1, or back from the last of `count`."""
    index = int(word.split("/")[0])
    if index == 0 or index < -count:
        raise ValueError(word)
    return index - 1 if index > 0 else count + index


_READERS: dict[str, Callable[[str, bytes], Array]] = {
    ".stl": _stl,
    ".obj": _obj,
    ".ply": read_ply,
    ".glb": read_glb,
    ".3mf": read_three_mf,
}
ENDINGS = tuple(_READERS)


def declared_unit(path: str | Path) -> float | None:
    """The unit that a mesh file states itself [m]; None for formats that state none. Raises MeshError."""
    ending = Path(path).suffix.lower()
    if ending == ".3mf":
        return three_mf_unit(str(path), Path(path).read_bytes())
    return 1.0 if ending == ".glb" else None


def is_closed(triangles: Triangles) -> bool:
    """Whether every edge is used once in each direction."""
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    key = edges[:, 0] * (triangles.max() + 1) + edges[:, 1]
    back = edges[:, 1] * (triangles.max() + 1) + edges[:, 0]
    return len(np.unique(key)) == len(key) and bool(np.all(np.isin(back, key)))


def surface_points(solids: tuple[Solid, ...], folder: str) -> Array:
    """Points whose convex hull is that of the solids (round shapes by inscribed polygons), in the body frame,
    (n, 3) [m]."""
    return np.concatenate(
        [_corners(s.shape, folder) @ s.pose.matrix[:3, :3].T + s.pose.matrix[:3, 3] for s in solids]
    )


def _corners(shape: Shape, folder: str) -> Array:
    if isinstance(shape, Mesh):
        return read_mesh(Path(folder) / shape.path, shape.scale)[0]
    if isinstance(shape, Box):
        signs = np.stack(np.meshgrid([-1, 1], [-1, 1], [-1, 1]), -1).reshape(-1, 3)
        return np.asarray(signs * np.array(shape.size) / 2)
    turn = np.arange(64) * 2 * np.pi / 64
    if isinstance(shape, Cylinder):
        ring = np.column_stack([np.cos(turn), np.sin(turn)]) * shape.radius
        ends = [np.column_stack([ring, np.full(64, z)]) for z in (-shape.length / 2, shape.length / 2)]
        return np.concatenate(ends)
    rings = [
        np.column_stack([np.cos(turn) * np.cos(up), np.sin(turn) * np.cos(up), np.full(64, np.sin(up))])
        for up in np.linspace(-np.pi / 2, np.pi / 2, 33)
    ]
    return np.concatenate(rings) * shape.radius
