"""What the example projects' generate.py draw with, for development only: one drawing, two files.

Lengths in mm. Every solid is drawn twice by the same words. For a mesh a circle is a regular polygon; a hole
is circumscribed (its faces touch the circle from outside) and a shaft inscribed, so that a shaft in its hole
never overlaps for the sake of the drawing. In a STEP file circles are circles, as a CAD program writes them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from manifold3d import Manifold

OVER = 1.0
"""A cut starts this far outside the material, so that no two faces coincide."""


FLATS = 48
"""Around a circle of a mesh; a project that wants others sets it before it draws."""


@dataclass(frozen=True, eq=False)
class Solid:
    """mesh: flat-sided; shape: of the CAD library, made when it is asked for."""

    mesh: Manifold
    shape: Callable[[], Any]

    def __add__(self, other: Solid) -> Solid:
        return Solid(self.mesh + other.mesh, lambda: _joined("Fuse", self, other))

    def __sub__(self, other: Solid) -> Solid:
        return Solid(self.mesh - other.mesh, lambda: _joined("Cut", self, other))

    def translate(self, by: tuple[float, float, float]) -> Solid:
        """Moved."""
        return Solid(self.mesh.translate(by), lambda: _placed(self.shape(), np.eye(3), by))

    def rotate(self, turns: tuple[float, float, float]) -> Solid:
        """Turned about the fixed x, then y, then z [deg]."""
        return Solid(self.mesh.rotate(turns), lambda: _placed(self.shape(), _turn(turns), (0, 0, 0)))


def _joined(how: str, a: Solid, b: Solid) -> Any:
    from OCP import BRepAlgoAPI

    return getattr(BRepAlgoAPI, f"BRepAlgoAPI_{how}")(a.shape(), b.shape()).Shape()


def _placed(shape: Any, R: np.ndarray, by: Sequence[float]) -> Any:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform

    return BRepBuilderAPI_Transform(shape, _trsf(R, by), True).Shape()


def _trsf(R: np.ndarray, by: Sequence[float]) -> Any:
    from OCP.gp import gp_Trsf

    trsf = gp_Trsf()
    trsf.SetValues(*(float(v) for v in np.column_stack([R, by]).ravel()))
    return trsf


def _turn(turns: tuple[float, float, float]) -> np.ndarray:
    R = np.eye(3)
    for axis, degrees in enumerate(turns):
        c, s = np.round(np.cos(np.deg2rad(degrees)), 15), np.round(np.sin(np.deg2rad(degrees)), 15)
        i, j = (axis + 1) % 3, (axis + 2) % 3
        step = np.eye(3)
        step[i, i], step[i, j], step[j, i], step[j, j] = c, -s, s, c
        R = step @ R
    return R


def box(size: tuple[float, float, float], middle: tuple[float, float, float]) -> Solid:
    """A block of the given edges, standing on its middle."""

    def shape() -> Any:
        from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox
        from OCP.gp import gp_Pnt

        return BRepPrimAPI_MakeBox(gp_Pnt(*(m - s / 2 for m, s in zip(middle, size, strict=True))), *size)

    return Solid(Manifold.cube(size, True).translate(middle), lambda: shape().Shape())


def _round(low_radius: float, high_radius: float, low: float, high: float, hole: bool) -> Solid:
    """Round material along z whose radius changes evenly; a hole's is true in the middle of its flats."""
    wide = 1.0 / math.cos(math.pi / FLATS) if hole else 1.0
    mesh = Manifold.cylinder(high - low, wide * low_radius, wide * high_radius, FLATS)

    def shape() -> Any:
        from OCP.BRepPrimAPI import BRepPrimAPI_MakeCone, BRepPrimAPI_MakeCylinder
        from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

        stands = gp_Ax2(gp_Pnt(0, 0, low), gp_Dir(0, 0, 1))
        if low_radius == high_radius:
            return BRepPrimAPI_MakeCylinder(stands, low_radius, high - low).Shape()
        return BRepPrimAPI_MakeCone(stands, low_radius, high_radius, high - low).Shape()

    return Solid(mesh.translate((0, 0, low)), shape)


def shaft(diameter: float, low: float, high: float) -> Solid:
    """Round material along z from low to high."""
    return _round(diameter / 2, diameter / 2, low, high, hole=False)


def cone(low_diameter: float, high_diameter: float, low: float, high: float) -> Solid:
    """Round material along z whose diameter changes from low to high."""
    return _round(low_diameter / 2, high_diameter / 2, low, high, hole=False)


def pointed(diameter: float, low: float, high: float, chamfer: float) -> Solid:
    """A shaft whose upper end has a 45 degree chamfer."""
    tip = cone(diameter, diameter - 2 * chamfer, 0, chamfer).translate((0, 0, high - chamfer))
    return shaft(diameter, low, high - chamfer) + tip


def bore(diameter: float, mouth: float, depth: float, chamfer: float = 0.0) -> Solid:
    """What a hole takes away: down from z = mouth, with a 45 degree chamfer of that radial width."""
    cut = _round(diameter / 2, diameter / 2, mouth - depth, mouth + OVER, hole=True)
    if chamfer > 0:
        # Carried on past the mouth, so that the mouth has exactly the chamfer's width.
        wide = diameter / 2 + chamfer + OVER
        cut += _round(diameter / 2, wide, mouth - chamfer, mouth + OVER, hole=True)
    return cut


def hexagon(across: float, low: float, high: float) -> Solid:
    """Six flats about z, corners on the x axis. across: the flats."""
    radius = across / math.sqrt(3)

    def shape() -> Any:
        from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakePolygon
        from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
        from OCP.gp import gp_Pnt, gp_Vec

        outline = BRepBuilderAPI_MakePolygon()
        for k in range(6):
            angle = k * math.pi / 3
            outline.Add(gp_Pnt(radius * math.cos(angle), radius * math.sin(angle), low))
        outline.Close()
        face = BRepBuilderAPI_MakeFace(outline.Wire()).Face()
        return BRepPrimAPI_MakePrism(face, gp_Vec(0, 0, high - low)).Shape()

    return Solid(Manifold.cylinder(high - low, radius, radius, 6).translate((0, 0, low)), shape)


def screw() -> Solid:
    """M4 x 12 after ISO 4762: head 7 x 4, hexagon socket 3 across flats and 2 deep, no thread drawn.

    The shank is drawn at 3.9, about the middle of the major diameter in class 6g (3.838 to 3.978, from memory
    of ISO 965). So it overlaps the drill-size hole: the pair screws, and is known as a thread, not as a fit
    of cylinders.
    """
    socket = hexagon(3, 2, 4 + OVER)
    return shaft(3.9, -12, 0.5) + shaft(7, 0, 4) - socket


def stand() -> Solid:
    """A plate on two legs; the driver's nose hangs in its hole, two rails keep its collar straight."""
    body = box((90, 60, 8), (0, 0, 79)) - bore(16.4, 83, 8 + OVER)
    for side in (-1.0, 1.0):
        body += box((8, 60, 76), (side * 41, 0, 38))
        body += box((24, 4, 9), (0, side * (17.2 + 2), 86.5))
    return body


def write_stl(path: Path, solid: Manifold) -> None:
    """Binary STL; the same solid gives the same bytes."""
    mesh = solid.to_mesh()
    corners = np.asarray(mesh.vert_properties, dtype=np.float32)[:, :3][np.asarray(mesh.tri_verts)]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    record = np.zeros(
        len(corners), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")]
    )
    record["normal"] = across / np.linalg.norm(across, axis=1, keepdims=True)
    record["corners"] = corners
    head = f"{path.stem}, millimetres".encode().ljust(80, b" ")
    path.write_bytes(head + np.uint32(len(record)).tobytes() + record.tobytes())


def write_all(folder: Path, draws: Sequence[Callable[[], Solid]]) -> None:
    """One mesh for each drawing, named after it."""
    folder.mkdir(exist_ok=True)
    for draw in draws:
        write_stl(folder / f"{draw.__name__}.stl", draw().mesh)


@dataclass(frozen=True)
class Use:
    """One part, or one group of parts, of an assembly. name: of this use; of: its drawing, or what the group
    is made of; turns: about the fixed axes [deg], then at [mm]."""

    name: str
    of: Callable[[], Solid] | Group
    at: tuple[float, float, float]
    turns: tuple[float, float, float] = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Group:
    """Parts put together before they go further."""

    name: str
    uses: tuple[Use, ...]


def write_step(path: Path, whole: Group) -> None:
    """Everything at home, named. What is used several times is written once, groups too; the same drawing
    gives the same file."""
    from OCP.Message import Message
    from OCP.STEPCAFControl import STEPCAFControl_Writer
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDocStd import TDocStd_Document
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    Message.DefaultMessenger_s().ChangePrinters().Clear()  # it would write to the screen on its own
    document = TDocStd_Document(TCollection_ExtendedString(whole.name))
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    _label_of(tool, whole, {})
    tool.UpdateAssemblies()
    writer = STEPCAFControl_Writer()
    writer.SetNameMode(True)
    writer.Transfer(document)
    writer.Write(str(path))
    text = path.read_text(encoding="ascii")
    dated = re.sub(r"(FILE_NAME\('[^']*',')[^']*'", r"\g<1>2026-01-01T00:00:00'", text, count=1)
    path.write_text(dated, encoding="ascii")


def _label_of(tool: Any, drawn: Callable[[], Solid] | Group, known: dict[Any, Any]) -> Any:
    """Of a drawing or a group in the file, made where it is not there yet."""
    from OCP.TopLoc import TopLoc_Location

    if drawn not in known:
        if isinstance(drawn, Group):
            label = tool.NewShape()
            for use in drawn.uses:
                where = TopLoc_Location(_trsf(_turn(use.turns), use.at))
                _name(tool.AddComponent(label, _label_of(tool, use.of, known), where), use.name)
        else:
            label = tool.AddShape(_tidy(drawn().shape()), False)
        _name(label, drawn.name if isinstance(drawn, Group) else drawn.__name__)
        known[drawn] = label
    return known[drawn]


def _name(label: Any, name: str) -> None:
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name

    TDataStd_Name.Set_s(label, TCollection_ExtendedString(name))


def _tidy(shape: Any) -> Any:
    """Faces of one surface made one, as they are where a part is not drawn as a sum."""
    from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain

    unify = ShapeUpgrade_UnifySameDomain(shape, True, True, True)
    unify.Build()
    return unify.Shape()
