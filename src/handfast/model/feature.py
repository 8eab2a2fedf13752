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
class Lot:
    """What is known of a feature in the lot at hand. mean, sigma [m]: of its diameter as measured, both or
    neither; burrs, missing_chamfers: the share of parts that have a burr there, or lack their lead-in."""

    mean: float | None = None
    sigma: float | None = None
    burrs: float = 0.0
    missing_chamfers: float = 0.0


@dataclass(frozen=True, slots=True)
class Feature:
    """One feature and its frame T_part_feature.

    +z is the mating direction: into a hole or an internal thread, out of the tip of a shaft or a screw, out
    of a face. Origin: mouth of a hole, tip of a shaft, centre of a face.

    diameter [m]: of hole, shaft, the width across a slot, the inner diameter of a ring; fit: ISO 286 class
    such as "H7"; length [m]: depth of a hole, slot or groove, length of a shaft measured back from its tip;
    size [m]: edges of a face along its x and y, of a slot its whole length along x and its width along y;
    thread: "M4"; position_tolerance [m]: diameter of the cylindrical zone in which the axis may lie (ISO
    1101), or full width for a face or a slot's middle plane; teeth, module [m]: of a gear, whose x runs
    through the middle of a tooth; grip: whether jaws may hold the part here; property_class: strength of a
    screw, such as "8.8" or "A2-70" (ISO 898-1, ISO 3506-1); wall [m]: of the ring around a hole that a shaft
    is pressed into, where it is thin; lot: what was measured of the parts at hand.

    A diameter is normal about the middle of its tolerance with a sixth of it as sigma, or as the lot was
    measured; what lies outside the tolerance was sorted out.

    Where no error source acts on "feature.PART.NAME", the feature is off by its position tolerance: normal
    about the drawn place with a sixth of the tolerance as sigma, cut at the edge of the zone (what lies
    outside was sorted out), one draw a lot. It shifts a face along z, a slot along y, any other feature along
    x and y, independently; it does not tilt. A source that acts on the feature says more and stands instead
    of the tolerance.
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
    property_class: str | None = None
    wall: float | None = None
    lot: Lot | None = None
