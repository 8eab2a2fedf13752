"""GLB (binary glTF 2.0): named bodies, one node each, and motions of those nodes.

Source: Khronos Group, glTF 2.0 specification (ISO/IEC 12113:2022), from memory; the files are checked by the
Khronos validator in the tests. Lengths are metres. glTF's y points up; a root node turns our z there.
"""

from __future__ import annotations

import json
import struct
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handfast.spatial.se3 import Array

Colour = tuple[float, float, float]
_FLOAT, _UINT = 5126, 5125
_ARRAY, _ELEMENTS = 34962, 34963
# Turns our z to glTF's y: -90 degrees about x, as x y z w.
_UPRIGHT = [-(0.5**0.5), 0.0, 0.0, 0.5**0.5]


@dataclass(frozen=True, eq=False, slots=True)
class Body:
    """corners (m, 3, 3) [m] in the frame of the node; colour: linear 0..1."""

    name: str
    corners: Array
    colour: Colour


@dataclass(frozen=True, eq=False, slots=True)
class Track:
    """Poses of a node over time. times (k,) [s], rising; positions (k, 3) [m]; quaternions (k, 4) w x y z."""

    times: Array
    positions: Array
    quaternions: Array


@dataclass(slots=True)
class _Buffer:
    """The binary chunk as it grows, with its views and accessors."""

    data: bytearray = field(default_factory=bytearray)
    views: list[dict[str, Any]] = field(default_factory=list)
    accessors: list[dict[str, Any]] = field(default_factory=list)

    def add(self, values: NDArray[Any], kind: str, *, target: int | None = None, limits: bool = False) -> int:
        """The index of a new accessor over these values."""
        component = _FLOAT if values.dtype == np.float32 else _UINT
        view: dict[str, Any] = {"buffer": 0, "byteOffset": len(self.data), "byteLength": values.nbytes}
        self.views.append(view if target is None else {**view, "target": target})
        accessor: dict[str, Any] = {
            "bufferView": len(self.views) - 1,
            "componentType": component,
            "count": len(values),
            "type": kind,
        }
        if limits:
            flat = values.reshape(len(values), -1)
            accessor |= {"min": flat.min(axis=0).tolist(), "max": flat.max(axis=0).tolist()}
        self.data += values.tobytes()
        self.accessors.append(accessor)
        return len(self.accessors) - 1


def write_glb(
    bodies: list[Body], poses: dict[str, Array], tracks: dict[str, Track] | None = None, title: str = ""
) -> bytes:
    """A GLB file. poses: T_world_node (4, 4) by body name, at rest in the world frame where none is given."""
    buffer = _Buffer()
    drawn = [body for body in bodies if len(body.corners)]
    materials = list(dict.fromkeys(body.colour for body in drawn))
    meshes = [_mesh(buffer, body, materials.index(body.colour)) for body in drawn]
    nodes = [_node(body.name, i, poses.get(body.name)) for i, body in enumerate(drawn)]
    root = {"name": "cell", "rotation": _UPRIGHT, "children": list(range(len(nodes)))}
    animations = _animations(buffer, drawn, tracks or {})
    document: dict[str, Any] = {
        "asset": {
            "version": "2.0",
            "generator": "Handfast",
            **({"extras": {"title": title}} if title else {}),
        },
        "scene": 0,
        "scenes": [{"nodes": [len(nodes)]}],
        "nodes": [*nodes, root if nodes else {"name": "cell"}],
    }
    if drawn:
        document |= {"meshes": meshes, "materials": [_material(c) for c in materials]}
        document |= {"buffers": [{"byteLength": len(buffer.data)}]}
        document |= {"bufferViews": buffer.views, "accessors": buffer.accessors, **animations}
    return _file(document, bytes(buffer.data))


def _mesh(buffer: _Buffer, body: Body, material: int) -> dict[str, Any]:
    vertices, index = np.unique(body.corners.reshape(-1, 3).astype(np.float32), axis=0, return_inverse=True)
    position = buffer.add(vertices, "VEC3", target=_ARRAY, limits=True)
    indices = buffer.add(index.reshape(-1).astype(np.uint32), "SCALAR", target=_ELEMENTS)
    primitive = {"attributes": {"POSITION": position}, "indices": indices, "material": material}
    return {"name": body.name, "primitives": [primitive]}


def _node(name: str, mesh: int, pose: Array | None) -> dict[str, Any]:
    if pose is None:
        return {"name": name, "mesh": mesh}
    from handfast.spatial.se3 import quaternion

    w, x, y, z = (float(v) for v in quaternion(pose[:3, :3]))
    return {"name": name, "mesh": mesh, "translation": pose[:3, 3].tolist(), "rotation": [x, y, z, w]}


def _material(colour: Colour) -> dict[str, Any]:
    base = {"baseColorFactor": [*colour, 1.0], "metallicFactor": 0.1, "roughnessFactor": 0.8}
    return {"pbrMetallicRoughness": base}


def _animations(buffer: _Buffer, bodies: list[Body], tracks: dict[str, Track]) -> dict[str, Any]:
    """One animation of all tracks; none where there is no track."""
    samplers: list[dict[str, Any]] = []
    channels: list[dict[str, Any]] = []
    clocks: dict[bytes, int] = {}
    for node, body in enumerate(bodies):
        track = tracks.get(body.name)
        if track is None:
            continue
        times = track.times.astype(np.float32)
        clock = times.tobytes()
        if clock not in clocks:
            clocks[clock] = buffer.add(times, "SCALAR", limits=True)
        xyzw = np.roll(track.quaternions, -1, axis=1).astype(np.float32)
        outputs = (("translation", track.positions.astype(np.float32), "VEC3"), ("rotation", xyzw, "VEC4"))
        for path, values, kind in outputs:
            output = buffer.add(np.ascontiguousarray(values), kind)
            samplers.append({"input": clocks[clock], "output": output, "interpolation": "LINEAR"})
            channels.append({"sampler": len(samplers) - 1, "target": {"node": node, "path": path}})
    return (
        {"animations": [{"name": "process", "samplers": samplers, "channels": channels}]} if channels else {}
    )


def _file(document: dict[str, Any], data: bytes) -> bytes:
    text = json.dumps(document, separators=(",", ":"), sort_keys=True).encode()
    text += b" " * (-len(text) % 4)
    data += b"\0" * (-len(data) % 4)
    chunks = struct.pack("<I4s", len(text), b"JSON") + text
    if data:
        chunks += struct.pack("<I4s", len(data), b"BIN\0") + data
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks
