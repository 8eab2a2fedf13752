"""Whether a solid runs through itself: faces that cross where no edge of theirs is."""

from __future__ import annotations

from typing import Any

import numpy as np

from handfast.geometry.cad.brep_graph import box_of, faces_of
from handfast.spatial.se3 import Array

_FREE = 30
"""Of more faces of general form each pair is not looked at, only their edges: it would take seconds."""
_SLIVER = 0.1
"""What is no longer than that [mm] is how exactly a file was written: corners and slivers that touch."""
_PLAIN = ("Plane", "Cylinder", "Cone", "Sphere", "Torus")
_EDGES_AND_FACES, _FACES = 4, 5  # how far the CAD library looks, as it numbers it


def crossing(shape: Any) -> Array | None:
    """A place [mm] about which the shape crosses itself, in its own frame; None if it does not."""
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
        if float(np.linalg.norm(high - low)) > _SLIVER:
            return np.asarray((low + high) / 2)
    return None


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
