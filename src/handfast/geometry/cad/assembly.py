"""An assembly as it was drawn: what there is, and where each one stands."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.geometry.cad.face_graph import FaceGraph
from handfast.geometry.cad.tolerance import Tolerance
from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class Drawing:
    """One drawn part, used once or more. name: as in the file; colour: red, green, blue from 0 to 1, or None;
    bodies: how many solids it is made of; tolerances: stated for faces of it."""

    name: str
    colour: tuple[float, float, float] | None
    graph: FaceGraph
    bodies: int = 1
    tolerances: tuple[Tolerance, ...] = ()


@dataclass(frozen=True, eq=False, slots=True)
class Instance:
    """One use of a drawing. name: as in the file; drawing: index; T_assembly_part (4, 4) [m]; path: names of
    the assemblies around it, outermost first."""

    name: str
    drawing: int
    T_assembly_part: Array
    path: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False, slots=True)
class Assembly:
    """name: of the file's topmost product; schema: application protocol; drawings, instances; notes: what was
    found odd and left as it is."""

    name: str
    schema: str
    drawings: tuple[Drawing, ...]
    instances: tuple[Instance, ...]
    notes: tuple[str, ...] = ()
