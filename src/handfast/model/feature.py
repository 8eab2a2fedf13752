"""Features of a part: the places where it is located, held, joined and touched."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from handfast.spatial.pose import Pose

FeatureKind = Literal["hole", "shaft", "face", "thread", "edge", "slot", "groove", "ring", "gear"]


@dataclass(frozen=True, slots=True)
class Chamfer:
    """Lead-in. width: radial [m]; angle: from the part face [rad]."""

    width: float
    angle: float


@dataclass(frozen=True, slots=True)
class Feature:
    """One feature and its frame T_part_feature.

    +z is the mating direction: into a hole or an internal thread, out of the tip of a shaft or a screw, out of a face.
    Origin: mouth of a hole, tip of a shaft, centre of a face.

    diameter [m]: of hole, shaft, the width across a slot, the inner diameter of a ring; fit: ISO 286 class such as "H7";
    length [m]: depth of a hole, slot or groove, length of a shaft measured back from its tip; size [m]: edges of a face
    along its x and y, of a slot its whole length along x and its width along y; thread: "M4"; position_tolerance [m]:
    diameter of the cylindrical zone in which the axis may lie (ISO 1101), or full width for a face; teeth, module [m]:
    of a gear, whose x runs through the middle of a tooth; grip: whether jaws may hold the part here.
    """

    name: str
    kind: FeatureKind
    frame: Pose
    diameter: float | None = None
    fit: str | None = None
    length: float | None = None
    size: tuple[float, float] | None = None
    chamfer: Chamfer | None = None
    thread: str | None = None
    internal: bool = True
    position_tolerance: float | None = None
    teeth: int | None = None
    module: float | None = None
    grip: bool = True
