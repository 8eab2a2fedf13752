"""Triangles from an STL file, binary or text; the proof's own reader."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Triangles = NDArray[np.int64]

_VERTEX = re.compile(rb"vertex\s+(\S+)\s+(\S+)\s+(\S+)")
_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


class MeshError(ValueError):
    """A mesh file that the proof cannot read or use."""


def read_stl(path: Path, scale: float) -> tuple[Array, Triangles]:
    """Vertices (v, 3) [m] and triangles (t, 3) of an STL file; scale: file unit -> m.

    Corners that coincide become one vertex. Raises MeshError for a file that is cut short or holds no
    triangle.
    """
    data = path.read_bytes()
    corners = _binary(data, path) if _is_binary(data) else _text(data, path)
    if not len(corners):
        raise MeshError(f"{path}: expected triangles, found none")
    if not np.isfinite(corners).all():
        raise MeshError(f"{path}: expected finite corners, found a NaN or an infinity; export the mesh again")
    return merged(corners * scale)


def _is_binary(data: bytes) -> bool:
    """A binary file may begin with `solid` too, so its length decides."""
    if len(data) >= 84 and len(data) == 84 + 50 * int.from_bytes(data[80:84], "little"):
        return True
    return not data.lstrip().startswith(b"solid")


def _binary(data: bytes, path: Path) -> Array:
    count = int.from_bytes(data[80:84], "little")
    if len(data) < 84 or len(data) < 84 + 50 * count:
        raise MeshError(f"{path}: expected {count} triangles, the file ends before; export the mesh again")
    return np.frombuffer(data, _RECORD, count, 84)["corners"].astype(np.float64)


def _text(data: bytes, path: Path) -> Array:
    numbers = np.array(_VERTEX.findall(data)).astype(np.float64)
    if len(numbers) % 3:
        raise MeshError(f"{path}: expected three corners a triangle, found {len(numbers)} corners")
    return numbers.reshape(-1, 3, 3)


def merged(corners: Array) -> tuple[Array, Triangles]:
    """Corners (t, 3, 3) -> vertices and triangles; those within a nanometre are one; flat triangles are left
    out."""
    first, index = alike(np.round(corners.reshape(-1, 3) / 1e-9).astype(np.int64))
    triangles = index.reshape(-1, 3)
    a, b, c = triangles.T
    return corners.reshape(-1, 3)[first], triangles[(a != b) & (b != c) & (c != a)]


def alike(rows: NDArray[np.int64]) -> tuple[Triangles, Triangles]:
    """The first of the rows (m, n) of each kind (k,), in the order of their numbers, and the kind of each row
    (m,). numpy's unique takes several times as long for rows."""
    order = np.lexsort(rows.T[::-1])
    new = np.concatenate([[True], (np.diff(rows[order], axis=0) != 0).any(axis=1)])[: len(rows)]
    kind = np.empty(len(rows), dtype=np.int64)
    kind[order] = np.cumsum(new) - 1
    return order[new], kind
