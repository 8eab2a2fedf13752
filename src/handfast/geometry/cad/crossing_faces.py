"""Whether a solid runs through itself: faces that cross where no edge of theirs is."""

from __future__ import annotations

from typing import Any

import numpy as np

from handfast.geometry.cad.brep_faces import MM
from handfast.geometry.cad.brep_graph import box_of, faces_of
from handfast.geometry.cad.face_graph import FaceGraph
from handfast.spatial.se3 import Array

_FREE = 30
"""Of more faces of general form each pair is not looked at, only their edges: it would take seconds."""
_AROUND, _POINTS, _SHARE = 0.1, 200, 0.1
"""How far around a place where faces cross is looked [mm], at how many points, and which share of them must
be wound about twice or the wrong way: where two faces cross it is a quarter, at slivers next to none."""
_PLAIN = ("Plane", "Cylinder", "Cone", "Sphere", "Torus")
_EDGES_AND_FACES, _FACES = 4, 5  # how far the CAD library looks, as it numbers it


def crossing(shape: Any, graph: FaceGraph) -> Array | None:
    """A place [mm] about which the shape crosses itself, in its own frame; None if it does not.

    Where the CAD library says that faces cross, points around are asked how often the shell goes round them:
    once inside and not at all outside, whatever the slivers of an inexact file do.
    """
    from OCP.BOPAlgo import BOPAlgo_CheckerSI
    from OCP.collections import List_TopoDS_Shape

    shapes = List_TopoDS_Shape()
    shapes.Append(shape)
    checker = BOPAlgo_CheckerSI()
    checker.SetArguments(shapes)
    checker.SetLevelOfCheck(_EDGES_AND_FACES if _free(shape) > _FREE else _FACES)
    checker.SetNonDestructive(True)
    checker.Perform()
    found = checker.DS()
    for pair in found.Interferences():
        low, high = _common_box(*(found.Shape(k) for k in pair.Indices()))
        if float(np.linalg.norm(high - low)) > _AROUND and _twisted(low, high, graph):
            return np.asarray((low + high) / 2)
    return None


def _twisted(low: Array, high: Array, graph: FaceGraph) -> bool:
    """Whether the shell goes round many points about a box [mm] neither once nor not at all."""
    draw = np.random.default_rng(0)
    points = MM * draw.uniform(low - _AROUND, high + _AROUND, (_POINTS, 3))
    often = np.round(_windings(points, graph.vertices[graph.triangles]))
    return bool(np.mean((often < 0) | (often > 1)) > _SHARE)


def _windings(points: Array, corners: Array) -> Array:
    """How often triangles (n, 3, 3) go round each of points (m, 3): their solid angles over 4 pi (Van
    Oosterom and Strackee, 1983, from memory)."""
    found = np.empty(len(points))
    for k, p in enumerate(points):
        a, b, c = (corners - p).transpose(1, 0, 2)
        la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
        above = np.einsum("ij,ij->i", a, np.cross(b, c))
        ab, bc, ca = (np.einsum("ij,ij->i", u, v) for u, v in ((a, b), (b, c), (c, a)))
        found[k] = np.arctan2(above, la * lb * lc + ab * lc + bc * la + ca * lb).sum() / (2 * np.pi)
    return found


def _free(shape: Any) -> int:
    """How many faces are of general form."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.GeomAbs import GeomAbs_SurfaceType
    from OCP.TopoDS import TopoDS

    faces = faces_of(shape)
    kinds = (BRepAdaptor_Surface(TopoDS.Face(faces.FindKey(i + 1))).GetType() for i in range(faces.Extent()))
    plain = {getattr(GeomAbs_SurfaceType, f"GeomAbs_{kind}") for kind in _PLAIN}
    return sum(kind not in plain for kind in kinds)


def _common_box(a: Any, b: Any) -> tuple[Array, Array]:
    """Where the boxes of both meet."""
    (low_a, high_a), (low_b, high_b) = box_of(a), box_of(b)
    return np.maximum(low_a, low_b), np.minimum(high_a, high_b)
