"""A STEP file -> an assembly: structure, names, colours, equal parts used several times."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

from handfast.geometry.cad.assembly import Assembly, Drawing, Instance
from handfast.geometry.cad.brep_faces import MM
from handfast.geometry.cad.brep_graph import BrokenSolidError, box_of, face_graph
from handfast.geometry.cad.cad_error import CadError
from handfast.geometry.cad.crossing_faces import crossing
from handfast.geometry.cad.read_tolerances import Stated, on_faces, read_tolerances
from handfast.geometry.cad.step_text import LARGEST, look_at_text
from handfast.spatial.se3 import Array

Progress = Callable[[str, int, int], None]
_DEEP = 40  # levels of assemblies
_SMALL, _LARGE = 0.1e-3, 5.0  # of a part that two arms may put together [m]


def read_step(path: str | Path, progress: Progress | None = None, largest: int = LARGEST) -> Assembly:
    """Everything in the file in metres, whatever its unit. progress: told (what, done, of).

    Raises CadError. The CAD library may crash on a damaged file: read_cad reads in a process of its own.
    """
    said = progress or (lambda _what, _done, _of: None)
    text = look_at_text(path, largest)
    said("reading", 0, 3)
    document, reader = _document(path)
    said("walking", 1, 3)
    tool = _shape_tool(document)
    names = _Names(document)
    roots = _free_shapes(tool)
    if not roots:
        raise CadError(
            f"{path}: expected a part or an assembly, found none the library could make; export it again"
        )
    uses = [u for root in roots for u in _uses(root, names, np.eye(4), (), 0, path)]
    drawings, instances, notes = _drawn(uses, names, read_tolerances(document, reader), said, path)
    if text.inches:
        notes.append("the file is in inches; everything here is converted")
    name = names.of(roots[0]) or Path(path).stem
    return Assembly(name, text.schema, tuple(drawings), tuple(instances), tuple(dict.fromkeys(notes)))


def _document(path: str | Path) -> tuple[Any, Any]:
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.Message import Message
    from OCP.STEPCAFControl import STEPCAFControl_Reader
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDocStd import TDocStd_Document

    Message.DefaultMessenger_s().ChangePrinters().Clear()  # it would write to the screen on its own
    document = TDocStd_Document(TCollection_ExtendedString("handfast"))
    reader = STEPCAFControl_Reader()
    reader.SetNameMode(True)
    reader.SetColorMode(True)
    reader.SetGDTMode(True)
    status = reader.ReadFile(str(path))
    if status != IFSelect_ReturnStatus.IFSelect_RetDone:
        raise CadError(
            f"{path}: expected a STEP file the CAD library can read, found one it refuses; export it again"
        )
    if not reader.Transfer(document):
        raise CadError(f"{path}: expected shapes, found none the CAD library could make; export it again")
    return document, reader


def _shape_tool(document: Any) -> Any:
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    return XCAFDoc_DocumentTool.ShapeTool_s(document.Main())


def _free_shapes(tool: Any) -> list[Any]:
    from OCP.collections import Sequence_TDF_Label

    labels = Sequence_TDF_Label()
    tool.GetFreeShapes(labels)
    return [labels.Value(i + 1) for i in range(labels.Length())]


class _Names:
    """Names and colours of labels."""

    def __init__(self, document: Any) -> None:
        from OCP.XCAFDoc import XCAFDoc_DocumentTool

        self._colours = XCAFDoc_DocumentTool.ColorTool_s(document.Main())

    def of(self, label: Any) -> str:
        from OCP.TDataStd import TDataStd_Name

        name = TDataStd_Name()
        if not label.FindAttribute(TDataStd_Name.GetID_s(), name):
            return ""
        return str(name.Get().ToExtString()).strip()

    def colour(self, label: Any, shape: Any) -> tuple[float, float, float] | None:
        from OCP.Quantity import Quantity_Color
        from OCP.XCAFDoc import XCAFDoc_ColorType

        colour = Quantity_Color()
        for kind in (XCAFDoc_ColorType.XCAFDoc_ColorSurf, XCAFDoc_ColorType.XCAFDoc_ColorGen):
            if self._colours.GetColor_s(label, kind, colour) or self._colours.GetColor(shape, kind, colour):
                return colour.Red(), colour.Green(), colour.Blue()
        return None


Use = tuple[Any, str, Array, tuple[str, ...]]


def _uses(
    label: Any, names: _Names, T: Array, path: tuple[str, ...], depth: int, file: str | Path, name: str = ""
) -> Iterator[Use]:
    """(label of the drawing, name of its use, T_assembly_part, path) of every part below a label."""
    from OCP.TDF import TDF_Label
    from OCP.XCAFDoc import XCAFDoc_ShapeTool as Tool

    if depth > _DEEP:
        raise CadError(
            f"{file}: expected at most {_DEEP} levels of assemblies, found more; is one inside itself?"
        )
    if not Tool.IsAssembly_s(label):
        yield label, name or names.of(label), T, path
        return
    from OCP.collections import Sequence_TDF_Label

    parts = Sequence_TDF_Label()
    Tool.GetComponents_s(label, parts)
    inside = (*path, name or names.of(label))
    taken: list[str] = []
    for i in range(parts.Length()):
        use = parts.Value(i + 1)
        drawn = TDF_Label()
        if Tool.GetReferredShape_s(use, drawn):
            moved = T @ _matrix(Tool.GetLocation_s(use).Transformation())
            called = names.of(use)
            if Tool.IsAssembly_s(drawn):  # parts know their sub-assembly by its name: each has its own
                called = called or names.of(drawn)
                taken.append(called)
                called += f"_{taken.count(called)}" if taken.count(called) > 1 else ""
            yield from _uses(drawn, names, moved, inside, depth + 1, file, called)


def _matrix(trsf: Any) -> Array:
    T = np.eye(4)
    T[:3] = [[trsf.Value(i, j) for j in (1, 2, 3, 4)] for i in (1, 2, 3)]
    T[:3, 3] *= MM
    return T


def _drawn(
    uses: list[Use], names: _Names, stated: dict[str, list[Stated]], said: Progress, path: str | Path
) -> tuple[list[Drawing], list[Instance], list[str]]:
    drawings: list[Drawing] = []
    instances: list[Instance] = []
    notes: list[str] = []
    known: dict[tuple[str, bool], int] = {}
    for done, (label, name, T, above) in enumerate(uses):
        said(f"part {name}", done, len(uses))
        mirrored = bool(np.linalg.det(T[:3, :3]) < 0)
        key = _entry(label), mirrored
        if key not in known:
            drawing = _drawing(label, names, stated.get(_entry(label), []), mirrored, path, notes)
            if drawing is None:
                continue
            known[key] = len(drawings)
            drawings.append(drawing)
        placed = T @ np.diag([-1.0, 1.0, 1.0, 1.0]) if mirrored else T
        instances.append(Instance(name or drawings[known[key]].name, known[key], placed, above))
    if not instances:
        raise CadError(f"{path}: expected solids, found surfaces, wires or points only; export solid bodies")
    return drawings, instances, notes


def _drawing(
    label: Any, names: _Names, stated: list[Stated], mirrored: bool, path: str | Path, notes: list[str]
) -> Drawing | None:
    from OCP.XCAFDoc import XCAFDoc_ShapeTool

    shape = XCAFDoc_ShapeTool.GetShape_s(label)
    name = names.of(label)
    solids = _solids(shape)
    if not solids:
        notes.append(f"{name}: no solid in it (surfaces or wires), left out")
        return None
    whole = _joined(solids)
    _must_be_handled(whole, name, path)
    tolerances = on_faces(stated, whole)  # a mirrored solid keeps the order of its faces
    if mirrored:
        whole, name = _mirrored(whole), f"{name}_mirrored"
    try:
        graph = face_graph(whole)
    except BrokenSolidError as error:
        raise CadError(
            f"{path}: expected a solid that encloses material, found that of {name!r} does not: "
            f"{error.reason}; "
            "repair it where it was drawn, and export it again"
        ) from error
    where = crossing(whole, graph)
    if where is not None:
        x, y, z = (f"{v:.4g}" for v in where)
        raise CadError(
            f"{path}: expected solids whose faces meet in edges only, found that of {name!r} "
            f"runs through itself near ({x}, {y}, {z}) mm in its own frame; repair it where it was drawn, "
            "and export it again"
        )
    if len(solids) > 1:
        notes.append(f"{name}: {len(solids)} solids drawn as one part, kept as one")
    return Drawing(name, names.colour(label, shape), graph, len(solids), tolerances)


def _must_be_handled(whole: Any, name: str, path: str | Path) -> None:
    """Refuse what no arm would handle, or no eye would see, before minutes go into it: its unit is wrong."""
    low, high = box_of(whole)
    across = MM * float((high - low).max())
    if not _SMALL < across < _LARGE:
        raise CadError(
            f"{path}: expected parts between {1e3 * _SMALL:g} mm and {_LARGE:g} m, found {name!r} "
            f"{across:.3g} m across; the unit of the file may be wrong: export it again with its unit, or "
            "leave the part out"
        )


def _entry(label: Any) -> str:
    from OCP.TCollection import TCollection_AsciiString
    from OCP.TDF import TDF_Tool

    entry = TCollection_AsciiString()
    TDF_Tool.Entry_s(label, entry)
    return str(entry.ToCString())


def _solids(shape: Any) -> list[Any]:
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer

    walk, found = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_SOLID), []
    while walk.More():
        found.append(walk.Current())
        walk.Next()
    return found


def _joined(solids: list[Any]) -> Any:
    """One solid as it is, several as a compound."""
    if len(solids) == 1:
        return solids[0]
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Compound

    whole, builder = TopoDS_Compound(), BRep_Builder()
    builder.MakeCompound(whole)
    for solid in solids:
        builder.Add(whole, solid)
    return whole


def _mirrored(shape: Any) -> Any:
    """The shape mirrored at its own plane x = 0: what an instance placed by a mirroring shows."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf

    mirror = gp_Trsf()
    mirror.SetMirror(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(1, 0, 0)))
    return BRepBuilderAPI_Transform(shape, mirror, True).Shape()
