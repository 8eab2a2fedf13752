"""How a hand holds something."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from handfast.spatial.pose import Pose, Vec3


@dataclass(frozen=True, slots=True)
class Grasp:
    """T_grip_part: pose of the held part or tool in the grip frame. width: between the pads when closed [m].

    features: the part's features between the pads (one shaft, or two opposing faces); zone: of the fingers.
    closed: which freedoms of the part the closing jaws set (x y z, rx ry rz, along the axes of the grip
    frame); the others keep what they had. about: the point in the grip frame [m] that the freedoms are
    counted about, the middle of what the pads close on. slip_force [N], slip_torque [N m]: at the
    fingertips; touches and insertions stay under half of it.
    """

    gripper: str
    item: str
    T_grip_part: Pose
    width: float
    features: tuple[str, ...]
    zone: str
    closed: tuple[bool, bool, bool, bool, bool, bool]
    slip_force: float
    slip_torque: float
    symmetry: Literal["none", "spin"] = "none"
    about: Vec3 = (0.0, 0.0, 0.0)
