"""Writes STEP files from shapes of the CAD library [mm], for tests: names, colours, placed uses, any unit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

_AP214, _AP242 = 4, 5  # as the library numbers them
Placed = tuple[str, Any, np.ndarray]
"""Name of the use, shape (one shape used twice is one part), T_assembly_part (4, 4) with lengths in mm."""


def write_step(
    path: Path,
    name: str,
    parts: Sequence[Placed],
    unit: str = "MM",
    names: dict[int, str] | None = None,
    colours: dict[int, tuple[float, float, float]] | None = None,
    more: Callable[[Any, dict[int, Any]], None] | None = None,
) -> Path:
    """An assembly. names, colours: of a drawing, by id() of its shape; more: adds to the document (it is then
    written as AP242)."""
    from OCP.Interface import Interface_Static
    from OCP.Message import Message
    from OCP.Quantity import Quantity_Color, Quantity_TypeOfColor
    from OCP.STEPCAFControl import STEPCAFControl_Controller, STEPCAFControl_Writer
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.XCAFDoc import XCAFDoc_ColorType, XCAFDoc_DocumentTool

    Message.DefaultMessenger_s().ChangePrinters().Clear()
    document = TDocStd_Document(TCollection_ExtendedString("test"))
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    colour_tool = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    root = shapes.NewShape()
    TDataStd_Name.Set_s(root, TCollection_ExtendedString(name))
    known: dict[int, Any] = {}
    for use, shape, T in parts:
        if id(shape) not in known:
            label = shapes.AddShape(shape, False)
            TDataStd_Name.Set_s(label, TCollection_ExtendedString((names or {}).get(id(shape), use)))
            if colours and id(shape) in colours:
                colour = Quantity_Color(*colours[id(shape)], Quantity_TypeOfColor.Quantity_TOC_RGB)
                colour_tool.SetColor(label, colour, XCAFDoc_ColorType.XCAFDoc_ColorSurf)
            known[id(shape)] = label
        component = shapes.AddComponent(root, known[id(shape)], _location(T))
        TDataStd_Name.Set_s(component, TCollection_ExtendedString(use))
    shapes.UpdateAssemblies()
    if more is not None:
        more(document, known)
        STEPCAFControl_Controller.Init_s()  # the setting is unknown before
        Interface_Static.SetIVal_s("write.step.schema", _AP242)
    Interface_Static.SetCVal_s("write.step.unit", unit)
    try:
        writer = STEPCAFControl_Writer()
        writer.SetNameMode(True)
        writer.SetColorMode(True)
        writer.SetDimTolMode(more is not None)
        writer.Transfer(document)
        writer.Write(str(path))
    finally:
        Interface_Static.SetCVal_s("write.step.unit", "MM")
        Interface_Static.SetIVal_s("write.step.schema", _AP214)
    return path


def _location(T: np.ndarray) -> Any:
    from OCP.gp import gp_Trsf
    from OCP.TopLoc import TopLoc_Location

    trsf = gp_Trsf()
    trsf.SetValues(*(float(v) for v in np.asarray(T)[:3].ravel()))
    return TopLoc_Location(trsf)


def at(x: float, y: float, z: float) -> np.ndarray:
    """T that only moves [mm]."""
    T = np.eye(4)
    T[:3, 3] = x, y, z
    return T
