"""Drawing with the CAD library [mm]: what the corpus is made with. It shares nothing with the detector."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakePolygon,
    BRepBuilderAPI_NurbsConvert,
    BRepBuilderAPI_Transform,
)
from OCP.BRepPrimAPI import (
    BRepPrimAPI_MakeBox,
    BRepPrimAPI_MakeCone,
    BRepPrimAPI_MakeCylinder,
    BRepPrimAPI_MakePrism,
    BRepPrimAPI_MakeTorus,
)
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from OCP.ShapeUpgrade import ShapeUpgrade_ShapeDivideAngle

Vec = Sequence[float] | np.ndarray


def box(low: Vec, high: Vec) -> Any:
    return BRepPrimAPI_MakeBox(gp_Pnt(*map(float, low)), gp_Pnt(*map(float, high))).Shape()


def _ax(at: Vec, z: Vec) -> gp_Ax2:
    return gp_Ax2(gp_Pnt(*map(float, at)), gp_Dir(*map(float, z)))


def rod(at: Vec, z: Vec, diameter: float, length: float) -> Any:
    return BRepPrimAPI_MakeCylinder(_ax(at, z), diameter / 2, length).Shape()


def cone(at: Vec, z: Vec, first: float, last: float, length: float) -> Any:
    """Diameters at the beginning and at the end."""
    return BRepPrimAPI_MakeCone(_ax(at, z), first / 2, last / 2, length).Shape()


def torus(at: Vec, z: Vec, middle: float, section: float) -> Any:
    return BRepPrimAPI_MakeTorus(_ax(at, z), middle / 2, section / 2).Shape()


def prism(points: np.ndarray, along: Vec) -> Any:
    """A polygon (n, 3), drawn out."""
    polygon = BRepBuilderAPI_MakePolygon()
    for p in points:
        polygon.Add(gp_Pnt(*map(float, p)))
    polygon.Close()
    face = BRepBuilderAPI_MakeFace(polygon.Wire()).Face()
    return BRepPrimAPI_MakePrism(face, gp_Vec(*map(float, along))).Shape()


def add(a: Any, *others: Any) -> Any:
    for other in others:
        a = BRepAlgoAPI_Fuse(a, other).Shape()
    return a


def cut(a: Any, *others: Any) -> Any:
    for other in others:
        a = BRepAlgoAPI_Cut(a, other).Shape()
    return a


def common(a: Any, b: Any) -> Any:
    return BRepAlgoAPI_Common(a, b).Shape()


def moved(shape: Any, T: np.ndarray) -> Any:
    trsf = gp_Trsf()
    trsf.SetValues(*(float(v) for v in np.asarray(T)[:3].ravel()))
    return BRepBuilderAPI_Transform(shape, trsf, True).Shape()


def mirrored(shape: Any) -> Any:
    """At the plane x = 0."""
    trsf = gp_Trsf()
    trsf.SetMirror(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(1, 0, 0)))
    return BRepBuilderAPI_Transform(shape, trsf, True).Shape()


def split(shape: Any, degrees: float) -> Any:
    """Round faces divided into pieces of at most so many degrees."""
    divide = ShapeUpgrade_ShapeDivideAngle(float(np.deg2rad(degrees)), shape)
    divide.Perform()
    return divide.Result()


def as_splines(shape: Any) -> Any:
    """The same with every surface as a B-spline."""
    return BRepBuilderAPI_NurbsConvert(shape, True).Shape()
