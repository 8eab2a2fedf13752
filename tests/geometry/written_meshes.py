"""A solid written in each format that meshes come in, by the formats' own rules."""

from __future__ import annotations

import io
import json
import struct
import zipfile

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Faces = NDArray[np.int64]
ONCE = '<item objectid="1"/>'
CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"


def wedge() -> tuple[Array, Faces]:
    """A tetrahedron without symmetry, outward: no swap of axes, no mirror goes unnoticed."""
    vertices = np.array([[0, 0, 0], [30, 0, 0], [0, 20, 0], [5, 4, 10]], dtype=np.float64)
    return vertices, np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]], dtype=np.int64)


def ply_text(vertices: Array, faces: Faces, spoilt: str = "") -> bytes:
    head = _ply_head("ascii", len(vertices), len(faces))
    rows = [f"{x!r} {y!r} {z!r} 0.5" for x, y, z in vertices.tolist()]
    rows += [f"3 {a} {b} {c}" for a, b, c in faces]
    return (head + "\n".join(rows) + f"\n{spoilt}").encode()


def ply_binary(vertices: Array, faces: Faces, order: str) -> bytes:
    name = {"<": "binary_little_endian", ">": "binary_big_endian"}[order]
    body = b"".join(struct.pack(f"{order}3ff", x, y, z, 0.5) for x, y, z in vertices)
    body += b"".join(struct.pack(f"{order}B3i", 3, *map(int, face)) for face in faces)
    return _ply_head(name, len(vertices), len(faces)).encode() + body


def _ply_head(form: str, vertices: int, faces: int) -> str:
    return (
        f"ply\nformat {form} 1.0\ncomment drawn for a test\nelement vertex {vertices}\n"
        "property float x\nproperty float y\nproperty float z\nproperty float quality\n"
        f"element face {faces}\nproperty list uchar int vertex_indices\nend_header\n"
    )


def glb(vertices: Array, faces: Faces, at: list[dict[str, object]], **more: object) -> bytes:
    points = vertices.astype("<f4").tobytes()
    index = faces.astype("<u2").tobytes()
    document = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": at,
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": len(vertices), "type": "VEC3",
             "min": vertices.min(0).tolist(), "max": vertices.max(0).tolist()},
            {"bufferView": 1, "componentType": 5123, "count": faces.size, "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": len(points)},
            {"buffer": 0, "byteOffset": len(points), "byteLength": len(index)},
        ],
        "buffers": [{"byteLength": len(points) + len(index)}],
        **more,
    }  # fmt: skip
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    body = points + index + b"\0" * (-len(index) % 4)
    chunks = struct.pack("<I4s", len(text), b"JSON") + text + struct.pack("<I4s", len(body), b"BIN\0") + body
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def three_mf(
    vertices: Array, faces: Faces, unit: str = "millimeter", build: str = "", more: str = ""
) -> bytes:
    rows = "".join(f'<vertex x="{x!r}" y="{y!r}" z="{z!r}"/>' for x, y, z in vertices.tolist())
    index = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in faces)
    mesh = f"<mesh><vertices>{rows}</vertices><triangles>{index}</triangles></mesh>"
    model = (
        f'<?xml version="1.0"?><model unit="{unit}" xmlns="{CORE}"><resources>'
        f'<object id="1" type="model">{mesh}</object>{more}</resources>'
        f"<build>{build or ONCE}</build></model>"
    )
    relations = (
        '<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
        '<Relationship Id="r" Target="/3D/3dmodel.model" '
        'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
    )
    types = (
        '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>'
        "</Types>"
    )
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        for name, text in (
            ("[Content_Types].xml", types),
            ("_rels/.rels", relations),
            ("3D/3dmodel.model", model),
        ):
            archive.writestr(name, text)
    return file.getvalue()
