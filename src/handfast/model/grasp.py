"""How a hand holds something."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from handfast.spatial.pose import Pose


@dataclass(frozen=True, slots=True)
class Grasp:
    """T_grip_part: pose of the held part or tool in the grip frame. width: between the pads when closed [m].

    features: the part's features between the pads (one shaft, or two opposing faces); zone: name of the finger zone.
    closed: which freedoms of the part in the grip frame the closing jaws set (x y z, rx ry rz); the others keep what they had.
    slip_force [N], slip_torque [N m]: at the fingertips; touches and insertions stay under half of it.
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
