"""A two-finger gripper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from handfast.model.shape import Solid
from handfast.spatial.pose import Pose, Vec3


@dataclass(frozen=True, slots=True)
class FingerZone:
    """A stretch of the finger pad. start, end: distance back from the fingertip [m].

    A flat zone closes the direction of the jaws; a V zone closes both directions across its groove, for
    cylinders between min_diameter and max_diameter [m] lying along the finger's x ("across") or z ("along").
    """

    name: str
    kind: Literal["flat", "V"]
    start: float
    end: float
    min_diameter: float = 0.0
    max_diameter: float = 0.0
    groove: Literal["along", "across"] = "along"


@dataclass(frozen=True, slots=True)
class SuctionCup:
    """pose: T_grip_cup, z out of the cup; diameter of its lip [m]; force [N] that it holds straight on."""

    pose: Pose
    diameter: float
    force: float


@dataclass(frozen=True, slots=True)
class Gripper:
    """A two-finger gripper on an arm.

    mount: T_tip_grip, where the grip frame lies between the fingertips: z out of the hand, y the closing
    direction. palm: solids in the grip frame. finger_size: x, y (thickness), z (length back from the tip) [m]
    of each finger; the inner pad faces stand at y = +-width/2. opening: the least and largest jaw width [m];
    force [N]; friction: pads on metal; gap: how much wider than the item each jaw stands before it closes and
    after it lets go [m]; width_noise: of the width it tells while it holds something, one sigma [m].
    suction: a cup beside the fingers, or instead of them (then the fingers have no size); it can be written,
    and is refused by the checks.
    """

    name: str
    arm: str
    mount: Pose
    palm: tuple[Solid, ...]
    finger_size: Vec3
    zones: tuple[FingerZone, ...]
    opening: tuple[float, float]
    force: float
    friction: float = 0.3
    close_time: float = 0.4
    gap: float = 8e-3
    suction: SuctionCup | None = None
    width_noise: float = 0.01e-3
