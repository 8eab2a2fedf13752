"""Tolerances put on faces of parts before `write_step` writes them (AP242, the CAD library's own writer)."""

from __future__ import annotations

import string
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

More = Callable[[Any, dict[int, Any]], None]
"""Told the document and the label of each drawing by id() of its shape."""


@dataclass(frozen=True, eq=False)
class Size:
    """shape: of the drawing; faces: of it; value [mm]; apart: lower and upper deviation [mm]; bounds: lower
    and upper limit of size [mm] instead; fit: such as H7; text: a description that goes with it."""

    shape: Any
    faces: tuple[Any, ...]
    value: float
    kind: str = "Size_Diameter"
    apart: tuple[float, float] | None = None
    bounds: tuple[float, float] | None = None
    fit: str | None = None
    text: str | None = None


@dataclass(frozen=True, eq=False)
class Zone:
    """kind: such as Position; value [mm]: of the zone, round or not; datum: letter and its face, or None."""

    shape: Any
    faces: tuple[Any, ...]
    kind: str
    value: float
    round: bool = True
    datum: tuple[str, Any] | None = None


def cylinders(shape: Any) -> list[Any]:
    """Its round faces, each once, in the library's order."""
    return _faces(shape, "GeomAbs_Cylinder")


def bore(shape: Any, diameter: float) -> Any:
    """The round face of that size [mm]."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface

    return next(
        f for f in cylinders(shape) if abs(BRepAdaptor_Surface(f).Cylinder().Radius() - diameter / 2) < 1e-6
    )


def planes(shape: Any) -> list[Any]:
    """Its flat faces."""
    return _faces(shape, "GeomAbs_Plane")


def _faces(shape: Any, kind: str) -> list[Any]:
    from OCP import GeomAbs, TopAbs, TopExp
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.TopoDS import TopoDS

    walk, found = TopExp.TopExp_Explorer(shape, TopAbs.TopAbs_ShapeEnum.TopAbs_FACE), []
    while walk.More():
        face = TopoDS.Face(walk.Current())
        if BRepAdaptor_Surface(face).GetType() == getattr(GeomAbs.GeomAbs_SurfaceType, kind):
            found.append(face)
        walk.Next()
    return found


def stated(*tolerances: Size | Zone) -> More:
    """For `write_step(..., more=)`."""

    def add(document: Any, labels: dict[int, Any]) -> None:
        from OCP.XCAFDoc import XCAFDoc_DocumentTool

        tool = XCAFDoc_DocumentTool.DimTolTool_s(document.Main())
        shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
        # Where it has written no size before, the library writes the width of a zone as one in metres.
        scale = 1.0 if any(isinstance(one, Size) for one in tolerances) else 1e-3
        for one in sorted(tolerances, key=lambda one: isinstance(one, Zone)):
            on = _labels(shapes, labels[id(one.shape)], one.faces)
            if isinstance(one, Size):
                _size(tool, on, one)
            else:
                _zone(tool, shapes, labels[id(one.shape)], on, one, scale)

    return add


def named(kind: Any, word: str) -> Any:
    """The member of one of the library's enumerations."""
    return getattr(kind, f"{kind.__name__}_{word}")


def _labels(shapes: Any, label: Any, faces: tuple[Any, ...]) -> Any:
    from OCP.collections import Sequence_TDF_Label

    found = Sequence_TDF_Label()
    for face in faces:
        found.Append(shapes.AddSubShape(label, face))
    return found


def _size(tool: Any, on: Any, one: Size) -> None:
    from OCP import XCAFDimTolObjects as Objects
    from OCP.collections import Sequence_TDF_Label
    from OCP.XCAFDoc import XCAFDoc_Dimension

    label = tool.AddDimension()
    two_ended = one.kind.startswith("Location")
    first, second = Sequence_TDF_Label(), Sequence_TDF_Label()
    first.Append(on.Value(1))
    for k in range(2, on.Length() + 1):
        (second if two_ended else first).Append(on.Value(k))
    tool.SetDimension(first, second, label)
    thing = Objects.XCAFDimTolObjects_DimensionObject()
    thing.SetType(named(Objects.XCAFDimTolObjects_DimensionType, one.kind))
    thing.SetValue(one.value)
    if one.apart is not None:
        thing.SetLowerTolValue(-one.apart[0])  # the library counts it downwards
        thing.SetUpperTolValue(one.apart[1])
    if one.bounds is not None:
        thing.SetLowerBound(one.bounds[0])
        thing.SetUpperBound(one.bounds[1])
    if one.fit is not None:
        letter, grade = one.fit.rstrip(string.digits), int(one.fit.lstrip(string.ascii_letters))
        variance = named(Objects.XCAFDimTolObjects_DimensionFormVariance, letter.upper())
        # The library writes a grade that is two higher than the one it is asked for.
        step = named(Objects.XCAFDimTolObjects_DimensionGrade, f"IT{grade - 2}")
        thing.SetClassOfTolerance(letter[0].isupper(), variance, step)
    if one.text is not None:
        from OCP.TCollection import TCollection_HAsciiString as Text

        thing.AddDescription(Text(one.text), Text("note"))
    XCAFDoc_Dimension.Set_s(label).SetObject(thing)


def _zone(tool: Any, shapes: Any, drawing: Any, on: Any, one: Zone, scale: float) -> None:
    from OCP import XCAFDimTolObjects as Objects
    from OCP.TCollection import TCollection_HAsciiString as Text
    from OCP.XCAFDoc import XCAFDoc_Datum, XCAFDoc_GeomTolerance

    label = tool.AddGeomTolerance()
    tool.SetGeomTolerance(on, label)
    thing = Objects.XCAFDimTolObjects_GeomToleranceObject()
    thing.SetType(named(Objects.XCAFDimTolObjects_GeomToleranceType, one.kind))
    thing.SetValue(one.value * scale)
    if one.round:
        thing.SetTypeOfValue(named(Objects.XCAFDimTolObjects_GeomToleranceTypeValue, "Diameter"))
    XCAFDoc_GeomTolerance.Set_s(label).SetObject(thing)
    if one.datum is not None:
        letter, face = one.datum
        datum = tool.AddDatum()
        tool.SetDatum(_labels(shapes, drawing, (face,)), datum)
        about = Objects.XCAFDimTolObjects_DatumObject()
        about.SetName(Text(letter))
        about.SetPosition(1)
        XCAFDoc_Datum.Set_s(datum).SetObject(about)
        tool.SetDatumToGeomTol(datum, label)
