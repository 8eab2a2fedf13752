"""GLB: the binary form of glTF 2.0. Lengths are metres; the axes are taken as they stand in the file.

Source: Khronos Group, glTF 2.0 specification (ISO/IEC 12113), from memory.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Iterator
from typing import Any

import numpy as np

from handfast.geometry.mesh_error import MeshError, refused
from handfast.geometry.placed_corners import placed_corners
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_TRIANGLES = 4
_TYPES = {5121: "u1", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
_WIDTHS = {"SCALAR": 1, "VEC3": 3}
_DEEPEST = 100


def read_glb(path: str, data: bytes) -> Array:
    """Corners of the triangles (m, 3, 3) [m] of the scene, nodes placed. Raises MeshError."""
    document, buffer = _chunks(path, data)
    if document.get("extensionsRequired"):
        raise refused(path, "a GLB without required extensions", f"{document['extensionsRequired']}")
    try:
        scene = document["scenes"][document.get("scene", 0)]
        parts = [
            corners
            for node in scene.get("nodes", [])
            for corners in _node(path, document, buffer, node, np.eye(4), 0)
        ]
    except MeshError:
        raise
    except (KeyError, IndexError, TypeError, ValueError, AttributeError) as error:
        raise refused(path, "a GLB scene with meshes", f"a broken one ({error})") from error
    if not parts or not sum(map(len, parts)):
        raise refused(path, "at least one triangle", "none")
    return np.concatenate(parts)


def _chunks(path: str, data: bytes) -> tuple[dict[str, Any], bytes]:
    if len(data) < 20 or data[:4] != b"glTF" or struct.unpack_from("<I", data, 4)[0] != 2:
        raise refused(path, "a GLB file of version 2", "another one")
    length, kind = struct.unpack_from("<I4s", data, 12)
    if kind != b"JSON" or 20 + length > len(data):
        raise refused(path, "a JSON chunk first", "another one, or the end of the file")
    try:
        document = json.loads(data[20 : 20 + length])
    except (ValueError, RecursionError) as error:
        raise refused(path, "a JSON chunk", f"another one ({error})") from error
    if not isinstance(document, dict):
        raise refused(path, "a JSON object", type(document).__name__)
    rest = data[20 + length :]
    return document, rest[8:] if rest[4:8] == b"BIN\0" else b""


def _node(
    path: str, document: dict[str, Any], buffer: bytes, index: int, T_above: Array, depth: int
) -> Iterator[Array]:
    if depth > _DEEPEST:
        raise refused(path, f"at most {_DEEPEST} levels of nodes", "more, or a loop")
    node = document["nodes"][index]
    T = T_above @ _placement(node)
    if "mesh" in node:
        for primitive in document["meshes"][node["mesh"]]["primitives"]:
            yield placed_corners(_primitive(path, document, buffer, primitive), T)
    for child in node.get("children", []):
        yield from _node(path, document, buffer, child, T, depth + 1)


def _placement(node: dict[str, Any]) -> Array:
    if "matrix" in node:
        return np.array(node["matrix"], dtype=np.float64).reshape(4, 4).T
    x, y, z, w = node.get("rotation", (0.0, 0.0, 0.0, 1.0))
    turned = se3.rotation_from_quaternion(np.array([w, x, y, z], dtype=np.float64))
    scaled = turned @ np.diag(np.array(node.get("scale", (1.0, 1.0, 1.0)), dtype=np.float64))
    return se3.pose(scaled, np.array(node.get("translation", (0.0, 0.0, 0.0)), dtype=np.float64))


def _primitive(path: str, document: dict[str, Any], buffer: bytes, primitive: dict[str, Any]) -> Array:
    if primitive.get("mode", _TRIANGLES) != _TRIANGLES:
        raise refused(path, "meshes of triangles", f"a primitive of mode {primitive['mode']}")
    points = _accessor(path, document, buffer, primitive["attributes"]["POSITION"]).astype(np.float64)
    if "indices" not in primitive:
        return points.reshape(-1, 3, 3)
    index = _accessor(path, document, buffer, primitive["indices"]).reshape(-1, 3).astype(np.int64)
    return np.asarray(points[index])


def _accessor(path: str, document: dict[str, Any], buffer: bytes, index: int) -> np.ndarray:
    accessor = document["accessors"][index]
    if "sparse" in accessor or "bufferView" not in accessor:
        raise refused(path, "plain accessors", "a sparse one")
    view = document["bufferViews"][accessor["bufferView"]]
    if "uri" in document["buffers"][view["buffer"]] or view["buffer"] != 0:
        raise refused(path, "all data in the file itself", "a buffer elsewhere")
    layout, width = np.dtype(_TYPES[accessor["componentType"]]), _WIDTHS[accessor["type"]]
    count, at = accessor["count"], view.get("byteOffset", 0) + accessor.get("byteOffset", 0)
    step = view.get("byteStride", layout.itemsize * width)
    if min(count, at) < 0 or at + (count - 1) * step + layout.itemsize * width > len(buffer):
        raise refused(path, "accessors inside the buffer", "one that ends beyond it")
    return np.ndarray((count, width), layout, buffer, at, (step, layout.itemsize))
