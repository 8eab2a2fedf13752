"""Sizes with limits, classes of fit and geometric tolerances that a STEP file (AP242) states for faces."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from handfast.geometry.cad.brep_faces import MM
from handfast.geometry.cad.tolerance import UNREAD, Tolerance
from handfast.geometry.cad.written_sizes import WrittenSize, written_sizes

Key = str
"""Entry of the label of a drawing."""


@dataclass(frozen=True, eq=False, slots=True)
class Stated:
    """A tolerance and the faces of the CAD library that it is about."""

    shapes: tuple[Any, ...]
    tolerance: Tolerance


def read_tolerances(document: Any, reader: Any) -> dict[Key, list[Stated]]:
    """By drawing. reader: that filled the document, for what the library does not hand on."""
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    tool = XCAFDoc_DocumentTool.DimTolTool_s(document.Main())
    found: dict[Key, list[Stated]] = {}
    for label, tolerance in (*_sizes(tool, reader), *_zones(tool)):
        shapes: dict[Key, list[Any]] = {}
        for key, shape in _faces_of(label):
            shapes.setdefault(key, []).append(shape)
        for key, faces in shapes.items():
            found.setdefault(key, []).append(Stated(tuple(faces), tolerance))
    return found


def on_faces(stated: list[Stated], whole: Any) -> tuple[Tolerance, ...]:
    """The tolerances with the numbers of their faces in a solid, as its face graph counts them."""
    from dataclasses import replace

    from handfast.geometry.cad.brep_graph import faces_of

    if not stated:
        return ()
    numbers = faces_of(whole)
    found = []
    for one in stated:
        at = tuple(k - 1 for s in one.shapes if (k := numbers.FindIndex(s)))
        if at:
            found.append(replace(one.tolerance, faces=at))
    return tuple(found)


def _labels(ask: Any) -> list[Any]:
    from OCP.collections import Sequence_TDF_Label

    found = Sequence_TDF_Label()
    ask(found)
    return [found.Value(k + 1) for k in range(found.Length())]


def _faces_of(label: Any) -> Iterator[tuple[Key, Any]]:
    from OCP.collections import Sequence_TDF_Label
    from OCP.TCollection import TCollection_AsciiString
    from OCP.TDF import TDF_Tool
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.XCAFDoc import XCAFDoc_DimTolTool, XCAFDoc_ShapeTool

    both = Sequence_TDF_Label(), Sequence_TDF_Label()
    XCAFDoc_DimTolTool.GetRefShapeLabel_s(label, *both)
    for side in both:
        for k in range(side.Length()):
            shape = XCAFDoc_ShapeTool.GetShape_s(side.Value(k + 1))
            if shape is not None and shape.ShapeType() == TopAbs_ShapeEnum.TopAbs_FACE:
                entry = TCollection_AsciiString()
                TDF_Tool.Entry_s(side.Value(k + 1).Father(), entry)
                yield str(entry.ToCString()), shape


def _sizes(tool: Any, reader: Any) -> Iterator[tuple[Any, Tolerance]]:
    labels = _labels(tool.GetDimensionLabels)
    if not labels:
        return
    kinds = [_kind(label) for label in labels]
    written: list[WrittenSize | None] = [*written_sizes(reader.Reader().StepModel())]
    if len(written) != len(labels) or not all(map(_agree, kinds, written)):
        written = [None] * len(labels)  # which belongs to which is not certain: none is taken
    for label, kind, size in zip(labels, kinds, written, strict=True):
        linear = kind.startswith("Location_LinearDistance") or kind == "Size_Thickness"
        if kind in ("Size_Diameter", "Size_Radius") or linear:
            yield label, _size(label, kind, size)


def _kind(label: Any) -> str:
    """Such as Size_Diameter."""
    from OCP.XCAFDoc import XCAFDoc_Dimension

    return str(XCAFDoc_Dimension.Set_s(label).GetObject().GetType()).rsplit("Type_", 1)[-1]


def _agree(kind: str, written: WrittenSize | None) -> bool:
    """Whether a dimension as the library has it may be that one of the file."""
    if written is None:
        return False
    for word in ("diameter", "radius"):
        if kind == f"Size_{word.capitalize()}" and written.kind != word:
            return False
    return True


def _size(label: Any, kind: str, written: WrittenSize | None) -> Tolerance:
    from OCP.XCAFDoc import XCAFDoc_Dimension

    scale = 2 if kind == "Size_Radius" else 1
    if written is None or written.nominal is None:
        value = float(XCAFDoc_Dimension.Set_s(label).GetObject().GetValue()) * MM
        return Tolerance((), "size", scale * value, None, None, None, UNREAD)
    lower = scale * written.lower if written.lower is not None else None
    upper = scale * written.upper if written.upper is not None else None
    return Tolerance((), "size", scale * written.nominal, lower, upper, written.fit, written.text)


def _zones(tool: Any) -> Iterator[tuple[Any, Tolerance]]:
    from OCP.XCAFDoc import XCAFDoc_GeomTolerance

    for label in _labels(tool.GetGeomToleranceLabels):
        thing = XCAFDoc_GeomTolerance.Set_s(label).GetObject()
        kind = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", str(thing.GetType()).rsplit("Type_", 1)[-1]).lower()
        is_round = str(thing.GetTypeOfValue()).endswith("_Diameter")
        yield (
            label,
            Tolerance(
                (), kind, None, None, None, None, "", float(thing.GetValue()) * MM, is_round, _datums(label)
            ),
        )


def _datums(label: Any) -> tuple[str, ...]:
    """Letters of the datums, in their order."""
    from OCP.collections import Sequence_TDF_Label
    from OCP.XCAFDoc import XCAFDoc_Datum, XCAFDoc_DimTolTool

    found = Sequence_TDF_Label()
    XCAFDoc_DimTolTool.GetDatumWithObjectOfTolerLabels_s(label, found)
    things = [XCAFDoc_Datum.Set_s(found.Value(k + 1)).GetObject() for k in range(found.Length())]
    ordered = sorted(things, key=lambda t: t.GetPosition())
    return tuple(str(t.GetName().ToCString()) for t in ordered if t.GetName() is not None)
