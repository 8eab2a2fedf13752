"""A part of the assembly with its features, where it stands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.geometry.cad.drawn_feature import DrawnFeature
from handfast.geometry.cad.face_graph import FaceGraph
from handfast.mates.from_cad.standard_part import StandardPart
from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class Placed:
    """name: of this use; drawing: index; T_assembly_part; features; standard: what it is known as, or
    None; path: names of the sub-assemblies around it, outermost first."""

    name: str
    drawing: int
    graph: FaceGraph
    T_assembly_part: Array
    features: tuple[DrawnFeature, ...]
    standard: StandardPart | None
    mesh: str = ""
    path: tuple[str, ...] = ()

    def feature(self, name: str) -> DrawnFeature:
        """The feature of that name. Raises KeyError."""
        for d in self.features:
            if d.feature.name == name:
                return d
        raise KeyError(name)

    def is_a(self, kind: str) -> bool:
        """Whether it is a standard part of that kind."""
        return self.standard is not None and self.standard.kind == kind


@dataclass(frozen=True, eq=False, slots=True)
class Stretch:
    """A round feature in the assembly: low and high along its axis from `origin` [m], radius [m]; z: unit."""

    part: int
    drawn: DrawnFeature
    origin: Array
    z: Array
    length: float

    @property
    def diameter(self) -> float:
        """Drawn [m]."""
        return self.drawn.feature.diameter or 0.0


def stretches(index: int, part: Placed, kinds: tuple[str, ...]) -> list[Stretch]:
    """Holes, shafts or slots of a part as they stand. z: from the mouth inward, or from the tip outward; the
    material of a shaft lies behind its origin."""
    found = []
    for d in part.features:
        if d.feature.kind in kinds and d.feature.diameter and d.feature.length:
            T = part.T_assembly_part @ d.feature.frame.matrix
            found.append(Stretch(index, d, T[:3, 3], T[:3, 2], d.feature.length))
    return found


def span(stretch: Stretch, origin: Array, z: Array) -> tuple[float, float]:
    """From where to where a stretch reaches along an axis [m]."""
    start = float((stretch.origin - origin) @ z)
    inward = 1.0 if stretch.drawn.feature.kind in ("hole", "slot", "groove") else -1.0
    stop = start + inward * stretch.length * float(np.sign(stretch.z @ z))
    return min(start, stop), max(start, stop)
