"""PLY: polygons between vertices, as text or binary.

Source: G. Turk, The PLY Polygon File Format, 1994 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice, pairwise

import numpy as np

from handfast.geometry.mesh_error import refused
from handfast.spatial.se3 import Array

_TYPES = {
    "char": "i1", "uchar": "u1", "short": "i2", "ushort": "u2", "int": "i4", "uint": "u4", "float": "f4",
    "double": "f8", "int8": "i1", "uint8": "u1", "int16": "i2", "uint16": "u2", "int32": "i4",
    "uint32": "u4", "float32": "f4", "float64": "f8",
}  # fmt: skip
_ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
_FACES = ("vertex_indices", "vertex_index")


@dataclass(frozen=True, slots=True)
class _Element:
    """count: how many; properties: (name, type of one value, type of the count of a list or "")."""

    name: str
    count: int
    properties: tuple[tuple[str, str, str], ...]


def read_ply(path: str, data: bytes) -> Array:
    """Corners of the triangles (m, 3, 3) in the file's unit; polygons are cut into fans. Raises MeshError."""
    head, mark, body = data.partition(b"end_header")
    if not head.startswith(b"ply") or not mark:
        raise refused(path, "a PLY file with its header", "none")
    order, elements = _header(path, head)
    body = body.partition(b"\n")[2]
    try:
        values = _text(body, elements) if not order else _binary(body, elements, order)
    except (ValueError, IndexError, StopIteration) as error:
        raise refused(path, "as many values as the header says", f"another number ({error})") from error
    points, faces = values
    triangles = [(f[0], a, b) for f in faces if len(f) > 2 for a, b in pairwise(f[1:])]
    index = np.array(triangles, dtype=np.int64).reshape(-1, 3)
    if not len(index) or index.min() < 0 or index.max() >= len(points):
        raise refused(path, "at least one triangle between the vertices", f"{len(index)} triangles")
    return np.asarray(points[index])


def _header(path: str, head: bytes) -> tuple[str, tuple[_Element, ...]]:
    order, elements = "", list[_Element]()
    known = False
    for line in head.decode("ascii", "replace").splitlines()[1:]:
        match line.split():
            case ["format", name, _] if name in _ORDERS:
                order, known = _ORDERS[name], True
            case ["element", name, count] if count.isdigit():
                elements.append(_Element(name, int(count), ()))
            case ["property", "list", length, kind, name] if elements and {length, kind} <= _TYPES.keys():
                elements[-1] = _with(elements[-1], (name, _TYPES[kind], _TYPES[length]))
            case ["property", kind, name] if elements and kind in _TYPES:
                elements[-1] = _with(elements[-1], (name, _TYPES[kind], ""))
            case [] | ["comment", *_] | ["obj_info", *_]:
                pass
            case _:
                raise refused(path, "a PLY header", repr(line))
    names = {e.name: [p[0] for p in e.properties] for e in elements}
    if not known or not {"x", "y", "z"} <= set(names.get("vertex", ())):
        raise refused(path, "a format and vertices with x, y and z", f"{names}")
    return order, tuple(elements)


def _with(element: _Element, extra: tuple[str, str, str]) -> _Element:
    return _Element(element.name, element.count, (*element.properties, extra))


def _text(body: bytes, elements: tuple[_Element, ...]) -> tuple[Array, list[list[int]]]:
    words = iter(body.split())
    points, faces = list[list[float]](), list[list[int]]()
    for element in elements:
        for _ in range(element.count):
            row = dict[str, list[float]]()
            for name, _, length in element.properties:
                row[name] = [float(w) for w in islice(words, int(next(words)) if length else 1)]
            _keep(element.name, row, points, faces)
    if next(words, None) is not None:
        raise ValueError("more")
    return np.array(points, dtype=np.float64).reshape(-1, 3), faces


def _binary(body: bytes, elements: tuple[_Element, ...], order: str) -> tuple[Array, list[list[int]]]:
    points: Array = np.zeros((0, 3))
    faces = list[list[int]]()
    at = 0
    for element in elements:
        if all(not length for _, _, length in element.properties):
            layout = np.dtype([(name, order + kind) for name, kind, _ in element.properties])
            table = np.frombuffer(body, layout, element.count, at)
            at += layout.itemsize * element.count
            if element.name == "vertex":
                points = np.stack([table[axis] for axis in "xyz"], axis=1).astype(np.float64)
            continue
        rows = list[list[float]]()
        for _ in range(element.count):
            row = dict[str, list[float]]()
            for name, kind, length in element.properties:
                count = 1
                if length:
                    count = int(np.frombuffer(body, order + length, 1, at)[0])
                    at += int(length[1])
                row[name] = np.frombuffer(body, order + kind, count, at).tolist()
                at += int(kind[1]) * count
            _keep(element.name, row, rows, faces)
        if element.name == "vertex":
            points = np.array(rows, dtype=np.float64).reshape(-1, 3)
    return points, faces


def _keep(
    element: str, row: dict[str, list[float]], points: list[list[float]], faces: list[list[int]]
) -> None:
    if element == "vertex":
        points.append([row[axis][0] for axis in "xyz"])
    elif element == "face":
        corners = next((row[name] for name in _FACES if name in row), [])
        faces.append([int(v) for v in corners])
