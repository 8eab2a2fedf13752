"""3MF: objects, placed in a build, in a declared unit.

Source: 3MF Consortium, 3D Manufacturing Format core specification 1.3 (ISO/IEC 25422), from memory.
"""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Iterator

import numpy as np

from handfast.geometry.mesh_error import refused
from handfast.geometry.placed_corners import placed_corners
from handfast.spatial.se3 import Array

_CORE = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"
_RELATION = "{http://schemas.openxmlformats.org/package/2006/relationships}Relationship"
_MODEL_TYPE = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
UNITS = {"micron": 1e-6, "millimeter": 1e-3, "centimeter": 1e-2, "inch": 0.0254, "foot": 0.3048, "meter": 1.0}
_LARGEST = 200_000_000  # unpacked
_DEEPEST = 50


def read_three_mf(path: str, data: bytes) -> Array:
    """Corners of the triangles (m, 3, 3) of the build, in the declared unit. Raises MeshError."""
    model = _model(path, data)
    if model.get("requiredextensions"):
        raise refused(
            path, "a 3MF of the core specification", f"extensions {model.get('requiredextensions')!r}"
        )
    objects = {o.get("id"): o for o in model.iter(f"{_CORE}object")}
    try:
        parts = [
            corners
            for item in model.iter(f"{_CORE}item")
            for corners in _object(path, objects, item, np.eye(4), 0)
        ]
    except (KeyError, TypeError, ValueError, IndexError) as error:
        raise refused(path, "objects of triangles", f"broken ones ({error})") from error
    if not parts or not sum(map(len, parts)):
        raise refused(path, "at least one triangle in the build", "none")
    return np.concatenate(parts)


def declared_unit(path: str, data: bytes) -> float:
    """The unit of the model [m]. Raises MeshError."""
    unit = _model(path, data).get("unit", "millimeter")
    if unit not in UNITS:
        raise refused(path, f"a unit out of {', '.join(UNITS)}", repr(unit))
    return UNITS[unit]


def _model(path: str, data: bytes) -> ET.Element:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            relations = ET.fromstring(_member(path, archive, "_rels/.rels"))
            targets = [r.get("Target", "") for r in relations.iter(_RELATION) if r.get("Type") == _MODEL_TYPE]
            root = ET.fromstring(_member(path, archive, targets[0].lstrip("/")))
    except (
        zipfile.BadZipFile,
        KeyError,
        IndexError,
        ET.ParseError,
        NotImplementedError,
        RuntimeError,
    ) as error:
        raise refused(path, "a 3MF package with a model", f"none ({error})") from error
    if root.tag != f"{_CORE}model":
        raise refused(path, "a 3MF model", f"<{root.tag}>")
    return root


def _member(path: str, archive: zipfile.ZipFile, name: str) -> bytes:
    if archive.getinfo(name).file_size > _LARGEST:
        raise refused(path, f"at most {_LARGEST} bytes unpacked", "more")
    text = archive.read(name)
    if b"<!DOCTYPE" in text or b"<!ENTITY" in text:
        raise refused(path, "a plain XML model", "a document type definition")
    return text


def _object(
    path: str, objects: dict[str | None, ET.Element], use: ET.Element, T_above: Array, depth: int
) -> Iterator[Array]:
    """The triangles of an object that is used by a build item or a component."""
    if depth > _DEEPEST:
        raise refused(path, f"at most {_DEEPEST} levels of components", "more, or a loop")
    T = T_above @ _placement(use.get("transform"))
    body = objects[use.get("objectid")]
    for component in body.iterfind(f"{_CORE}components/{_CORE}component"):
        yield from _object(path, objects, component, T, depth + 1)
    mesh = body.find(f"{_CORE}mesh")
    if mesh is None:
        return
    points = np.array(
        [[float(v.get(axis, "")) for axis in "xyz"] for v in mesh.iterfind(f"{_CORE}vertices/{_CORE}vertex")]
    ).reshape(-1, 3)
    index = np.array(
        [
            [int(t.get(k, "")) for k in ("v1", "v2", "v3")]
            for t in mesh.iterfind(f"{_CORE}triangles/{_CORE}triangle")
        ],
        dtype=np.int64,
    ).reshape(-1, 3)
    if len(index) and index.min() < 0:
        raise refused(path, "triangles between vertices", "a negative number")
    yield placed_corners(points[index], T)


def _placement(written: str | None) -> Array:
    """Twelve numbers: the rows of a matrix that multiplies row vectors from the right."""
    T = np.eye(4)
    if written is not None:
        numbers = np.array([float(w) for w in written.split()]).reshape(4, 3)
        T[:3, :3], T[:3, 3] = numbers[:3].T, numbers[3]
    return T
