"""A common six-axis arm described by the lengths of its data sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from handfast.spatial.pose import Pose

LayoutKind = Literal["spherical-wrist", "three-parallel"]
LINKS = ("base", "shoulder", "upper arm", "elbow", "forearm", "wrist", "hand")
"""Names of the links: the base, then what each joint moves. Their frames are those of the joints, upright."""
Six = tuple[float, float, float, float, float, float]


@dataclass(frozen=True, slots=True)
class LayoutPose:
    """A pose of the data sheet, to check the lengths by: joints [rad], and where the flange then is in the
    base frame. turned: whether the pose's rotation counts too, or only its position."""

    joints: Six
    flange: Pose
    turned: bool


@dataclass(frozen=True, slots=True)
class Layout:
    """Lengths [m] of an arm that stands upright, with x forwards and z up in every joint frame.

    Joint 1 turns about z in the base origin. Joints 2 and 3 lean what is above them forwards, about y: joint
    2 shoulder_offset in front of axis 1 and shoulder_height up, joint 3 upper_arm above it.
    spherical-wrist: joint 4 turns about z, elbow_offset behind joint 3; joints 5 (about y) and 6 (about z)
    meet it `forearm` above joint 3; the flange lies `flange` above them, its z up.
    three-parallel: joint 4 leans about y, `forearm` above joint 3; joint 5 turns about z, wrist_side along y
    from there; joint 6 turns about y, `wrist` above joint 5; the flange lies `flange` along y from joint 6,
    its z along y, its x forwards.

    zero (6,): how far each joint is turned from upright where the maker's angle is 0 [rad]; reversed: numbers
    (1..6) of joints that the maker counts the other way; limits [rad], speeds [rad/s]: the maker's.
    diameters: of base, upper arm, forearm and wrist [m], for simple shapes (layout_shapes.py).
    """

    kind: LayoutKind
    shoulder_height: float
    upper_arm: float
    forearm: float
    flange: float
    limits: tuple[tuple[float, float], ...]
    speeds: Six
    diameters: tuple[float, float, float, float]
    poses: tuple[LayoutPose, ...]
    shoulder_offset: float = 0.0
    elbow_offset: float = 0.0
    wrist_side: float = 0.0
    wrist: float = 0.0
    zero: Six = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    reversed: tuple[int, ...] = ()

    def sign(self, joint: int) -> float:
        """-1.0 for a joint (1..6) that the maker counts the other way."""
        return -1.0 if joint in self.reversed else 1.0
