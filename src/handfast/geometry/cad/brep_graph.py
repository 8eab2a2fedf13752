"""A solid of the CAD library -> its face graph."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handfast.geometry.cad.brep_faces import MM, ReadFace, read_face
from handfast.geometry.cad.face_graph import Bend, Edge, Face, FaceGraph
from handfast.spatial.se3 import Array

SEGMENTS = 96
"""Flats of a full circle in the mesh."""
_SMOOTH = np.sin(np.deg2rad(3.0))
_DEFLECTION_MM = 0.05


@dataclass(frozen=True, eq=False, slots=True)
class BrokenSolidError(ValueError):
    """A solid whose faces do not close, with what is wrong."""

    reason: str


def face_graph(shape: Any) -> FaceGraph:
    """shape: TopoDS_Shape of one or more solids [mm]. Raises BrokenSolidError."""
    from OCP.BRepMesh import BRepMesh_IncrementalMesh

    BRepMesh_IncrementalMesh(shape, _DEFLECTION_MM, False, 2 * 2 * np.pi / SEGMENTS, False)
    shapes = faces_of(shape)
    read = [read_face(shapes.FindKey(i + 1), i) for i in range(shapes.Extent())]
    faces = tuple(r.face for r in read)
    vertices, triangles, of_face = _mesh(read)
    volume, centre, inertia = _mass(shape)
    if volume <= 0:
        raise BrokenSolidError("its faces look inward, or enclose nothing")
    return FaceGraph(
        faces, _edges(shape, shapes, faces), vertices, triangles, of_face, volume, centre, inertia
    )


def box_of(shape: Any) -> tuple[Array, Array]:
    """Lowest and highest corner of a box around a shape [mm]; a little larger than it has to be."""
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib

    box = Bnd_Box()
    BRepBndLib.Add_s(shape, box, False)
    low, high = box.CornerMin(), box.CornerMax()
    return np.array([low.X(), low.Y(), low.Z()]), np.array([high.X(), high.Y(), high.Z()])


def faces_of(shape: Any) -> Any:
    """The faces of a shape, numbered from 1 as its graph numbers them from 0: a map of the CAD library."""
    return _map_of(shape, "FACE")


def _map_of(shape: Any, kind: str) -> Any:
    from OCP import TopAbs, TopExp
    from OCP.collections import IndexedMap_TopoDS_Shape_TopTools_ShapeMapHasher as Shapes

    found = Shapes()
    TopExp.TopExp.MapShapes_s(shape, getattr(TopAbs.TopAbs_ShapeEnum, f"TopAbs_{kind}"), found)
    return found


def _mesh(read: list[ReadFace]) -> tuple[Array, NDArray[np.int64], NDArray[np.int64]]:
    """All faces' triangles with common corners joined."""
    start = np.cumsum([0] + [len(r.nodes) for r in read])
    corners = np.concatenate([r.nodes for r in read])
    _, first, where = np.unique(np.round(corners, 9), axis=0, return_index=True, return_inverse=True)
    triangles = np.concatenate(
        [where.reshape(-1)[r.triangles + s] for r, s in zip(read, start[:-1], strict=True)]
    )
    of_face = np.repeat(np.arange(len(read)), [len(r.triangles) for r in read])
    real = (triangles != np.roll(triangles, 1, axis=1)).all(axis=1)
    return corners[first], triangles[real].astype(np.int64), of_face[real]


def _mass(shape: Any) -> tuple[float, Array, Array]:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, props)
    centre, matrix = props.CentreOfMass(), props.MatrixOfInertia()
    inertia = np.array([[matrix.Value(i, j) for j in (1, 2, 3)] for i in (1, 2, 3)])
    return props.Mass() * MM**3, np.array([centre.X(), centre.Y(), centre.Z()]) * MM, inertia * MM**5


def _edges(shape: Any, shapes: Any, faces: tuple[Face, ...]) -> tuple[Edge, ...]:
    from OCP import TopAbs, TopExp
    from OCP.BRep import BRep_Tool
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.TopoDS import TopoDS

    sides: dict[int, list[tuple[int, bool]]] = {}
    all_edges = _map_of(shape, "EDGE")
    for i in range(len(faces)):
        walk = TopExp.TopExp_Explorer(shapes.FindKey(i + 1), TopAbs.TopAbs_ShapeEnum.TopAbs_EDGE)
        while walk.More():
            edge = walk.Current()
            forward = edge.Orientation() == TopAbs.TopAbs_Orientation.TopAbs_FORWARD
            sides.setdefault(all_edges.FindIndex(edge), []).append((i, forward))
            walk.Next()
    found = []
    for number, beside in sides.items():
        if len(beside) < 2 or beside[0][0] == beside[1][0]:
            continue
        edge = TopoDS.Edge(all_edges.FindKey(number))
        if BRep_Tool.Degenerated_s(edge):
            continue
        found.append(_edge(BRepAdaptor_Curve(edge), beside, faces))
    return tuple(found)


def _edge(curve: Any, beside: list[tuple[int, bool]], faces: tuple[Face, ...]) -> Edge:
    from OCP.GeomAbs import GeomAbs_CurveType
    from OCP.gp import gp_Pnt, gp_Vec

    first, last = curve.FirstParameter(), curve.LastParameter()
    straight = curve.GetType() == GeomAbs_CurveType.GeomAbs_Line
    count = 3 if straight else 33
    points = np.empty((count, 3))
    for k, t in enumerate(np.linspace(first, last, count)):
        p = curve.Value(float(t))
        points[k] = p.X(), p.Y(), p.Z()
    p, v = gp_Pnt(), gp_Vec()
    # Not the very middle: two halves of a symmetric part may touch there.
    curve.D1(first + 0.47 * (last - first), p, v)
    at, along = np.array([p.X(), p.Y(), p.Z()]) * MM, np.array([v.X(), v.Y(), v.Z()])
    points *= MM
    (a, _), (b, forward_b) = beside[:2]
    bend = bend_between(at, along if forward_b else -along, faces[a], faces[b])
    closed = bool(np.linalg.norm(points[0] - points[-1]) < 1e-7)
    return Edge((a, b), points, bend, closed, straight)


def bend_between(at: Array, along_b: Array, a: Face, b: Face) -> Bend:
    """How the outside turns from one face to the next. along_b: the edge's direction with face b on its
    left."""
    normal_a, normal_b = normal_at(a, at), normal_at(b, at)
    across = np.cross(normal_b, along_b / max(float(np.linalg.norm(along_b)), 1e-300))
    turn = float(across @ normal_a)
    if abs(turn) < _SMOOTH and float(normal_a @ normal_b) > 0:
        return "smooth"
    return "convex" if turn < 0 else "concave"


def normal_at(face: Face, point: Array) -> Array:
    """Outward unit normal of a face at a point on it [m]; of a free surface that of its nearest sample."""
    if face.kind == "plane":
        return face.axis
    if face.kind == "free":
        if face.samples is None or face.normals is None or not len(face.samples):
            return face.axis
        return np.asarray(face.normals[int(np.argmin(((face.samples - point) ** 2).sum(axis=1)))])
    away = point - face.origin
    if face.kind == "sphere":
        out = away
    else:
        out = away - (away @ face.axis) * face.axis
        if face.kind == "torus":
            out = away - face.radius * out / max(float(np.linalg.norm(out)), 1e-12)
        elif face.kind == "cone":
            out = out / max(float(np.linalg.norm(out)), 1e-12)
            out = np.cos(face.half_angle) * out - np.sin(face.half_angle) * face.axis
    return np.asarray(face.outward * out / max(float(np.linalg.norm(out)), 1e-12))
