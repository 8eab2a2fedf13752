"""A face of the CAD library -> what surface it is, its points and its triangles."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handfast.geometry.cad.face_graph import Face, SurfaceKind
from handfast.geometry.cad.surface_fit import fit_surface
from handfast.spatial.se3 import Array

MM = 1e-3
_SAMPLES = 48


@dataclass(frozen=True, eq=False, slots=True)
class ReadFace:
    """A face and its own triangles: nodes (n, 3) [m], triangles (t, 3), outward by the right-hand rule."""

    face: Face
    nodes: Array
    triangles: NDArray[np.int64]


def read_face(shape: Any, index: int) -> ReadFace:
    """shape: a meshed TopoDS_Face [mm]."""
    from OCP.BRep import BRep_Tool
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.TopAbs import TopAbs_Orientation
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS

    brep = TopoDS.Face(shape)
    reversed_ = brep.Orientation() == TopAbs_Orientation.TopAbs_REVERSED
    place = TopLoc_Location()
    mesh = BRep_Tool.Triangulation_s(brep, place)
    surface = BRepAdaptor_Surface(brep)
    nodes, triangles = np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64)
    if mesh is not None:
        nodes, triangles = _triangulation(mesh, place, reversed_)
    uv = _sample(mesh, triangles) if len(triangles) else _grid(surface)
    points, normals = _points_and_normals(surface, uv, reversed_)
    face = _named(surface, index, points, normals, nodes, triangles)
    return ReadFace(face, nodes, triangles)


def _triangulation(mesh: Any, place: Any, reversed_: bool) -> tuple[Array, NDArray[np.int64]]:
    trsf = place.Transformation()
    moved = not place.IsIdentity()
    nodes = np.empty((mesh.NbNodes(), 3))
    for i in range(len(nodes)):
        p = mesh.Node(i + 1)
        if moved:
            p = p.Transformed(trsf)
        nodes[i] = p.X(), p.Y(), p.Z()
    triangles = np.array([mesh.Triangle(i + 1).Get() for i in range(mesh.NbTriangles())], dtype=np.int64) - 1
    triangles = triangles.reshape(-1, 3)
    return nodes * MM, triangles[:, ::-1] if reversed_ else triangles


def _sample(mesh: Any, triangles: NDArray[np.int64]) -> Array:
    """Some parameters spread over the face: of nodes and of the middles of triangles."""
    at = np.linspace(0, mesh.NbNodes() - 1, min(mesh.NbNodes(), _SAMPLES // 2)).astype(int)
    some = triangles[np.linspace(0, len(triangles) - 1, min(len(triangles), _SAMPLES // 2)).astype(int)]
    wanted = np.concatenate([at, some.ravel()])
    uv = np.zeros((len(wanted), 2))
    if mesh.HasUVNodes():
        for k, node in enumerate(wanted):
            q = mesh.UVNode(int(node) + 1)
            uv[k] = q.X(), q.Y()
    return np.concatenate([uv[: len(at)], uv[len(at) :].reshape(-1, 3, 2).mean(axis=1)])


def _grid(surface: Any) -> Array:
    """Parameters all over a face that is too small for the mesh."""
    u = np.linspace(surface.FirstUParameter(), surface.LastUParameter(), 5)
    v = np.linspace(surface.FirstVParameter(), surface.LastVParameter(), 5)
    return np.stack(np.meshgrid(u, v), axis=-1).reshape(-1, 2)


def _points_and_normals(surface: Any, uv: Array, reversed_: bool) -> tuple[Array, Array]:
    from OCP.gp import gp_Pnt, gp_Vec

    points, normals = np.empty((len(uv), 3)), np.zeros((len(uv), 3))
    p, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
    for i, (u, v) in enumerate(uv):
        surface.D1(float(u), float(v), p, du, dv)
        n = du.Crossed(dv)
        points[i] = p.X(), p.Y(), p.Z()
        normals[i] = n.X(), n.Y(), n.Z()
    length = np.linalg.norm(normals, axis=1)
    kept = length > 1e-12
    if not kept.any():  # a sliver: where it is will do
        return points[:1] * MM, np.array([[0.0, 0.0, 1.0]])
    sign = -1.0 if reversed_ else 1.0
    return points[kept] * MM, sign * normals[kept] / length[kept, None]


def _named(
    surface: Any, index: int, points: Array, normals: Array, nodes: Array, triangles: NDArray[np.int64]
) -> Face:
    corners = nodes[triangles]
    areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2
    area = float(areas.sum())
    centre = (corners.mean(axis=1) * areas[:, None]).sum(axis=0) / area if area > 0 else points[0]
    kind, origin, axis, radius, half, tube = _analytic(surface)
    recognised, misfit = False, 0.0
    if kind == "free":
        fit = fit_surface(points, normals)
        if fit is not None:
            kind, origin, axis, radius, half = fit.kind, fit.origin, fit.axis, fit.radius, fit.half_angle
            tube, recognised, misfit = fit.tube, True, fit.misfit
    if kind == "plane" and len(normals) and float(normals[0] @ axis) < 0:
        axis = -axis
    outward = _outward(kind, origin, axis, radius, points, normals)
    return Face(
        index, kind, origin, axis, radius, half, tube, outward, np.concatenate([nodes, points]), area, centre,
        recognised, misfit, points, normals,
    )  # fmt: skip


def _analytic(surface: Any) -> tuple[SurfaceKind, Array, Array, float, float, float]:
    """kind, origin [m], axis, radius [m], half angle [rad], tube [m]."""
    from OCP.GeomAbs import GeomAbs_SurfaceType as Kind

    kind = surface.GetType()
    if kind == Kind.GeomAbs_Plane:
        plane = surface.Plane()
        return "plane", _point(plane.Location()), _point(plane.Axis().Direction()) / MM, 0.0, 0.0, 0.0
    if kind == Kind.GeomAbs_Cylinder:
        c = surface.Cylinder()
        return "cylinder", *_axis(c), c.Radius() * MM, 0.0, 0.0
    if kind == Kind.GeomAbs_Cone:
        c = surface.Cone()
        return "cone", *_axis(c), c.RefRadius() * MM, c.SemiAngle(), 0.0
    if kind == Kind.GeomAbs_Sphere:
        c = surface.Sphere()
        return "sphere", _point(c.Location()), np.array([0.0, 0.0, 1.0]), c.Radius() * MM, 0.0, 0.0
    if kind == Kind.GeomAbs_Torus:
        c = surface.Torus()
        return "torus", *_axis(c), c.MajorRadius() * MM, 0.0, c.MinorRadius() * MM
    return "free", np.zeros(3), np.array([0.0, 0.0, 1.0]), 0.0, 0.0, 0.0


def _axis(surface: Any) -> tuple[Array, Array]:
    axis = surface.Axis()
    return _point(axis.Location()), _point(axis.Direction()) / MM


def _point(p: Any) -> Array:
    return np.array([p.X(), p.Y(), p.Z()]) * MM


def _outward(
    kind: SurfaceKind, origin: Array, axis: Array, radius: float, points: Array, normals: Array
) -> int:
    """+1 where the outward normal points away from the axis (of a torus: from its circle; of a sphere: its
    centre)."""
    if kind in ("plane", "free") or not len(points):
        return 1
    away = points - origin
    out = away if kind == "sphere" else away - (away @ axis)[:, None] * axis
    if kind == "torus":
        out = away - radius * out / np.maximum(np.linalg.norm(out, axis=1), 1e-12)[:, None]
    return 1 if float((out * normals).sum()) > 0 else -1
