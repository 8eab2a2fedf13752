"""The chain of an arm: revolute joints, their limits and the shapes of the links."""

from __future__ import annotations

from dataclasses import dataclass, field

from handfast.kinematics.urdf_values import ArmError
from handfast.model.arm import Arm
from handfast.model.shape import Solid
from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class Chain:
    """Revolute joints from root to tip. Links are numbered -1 (root), 0 .. n-1 (moved by that joint), n
    (tip).

    placements: (n, 4, 4) parent link -> joint frame at q = 0; axes: (n, 3) unit, in the joint frame; tip: (4,
    4) last link -> tip; base: T_world_root (4, 4); lower, upper, velocity, acceleration: (n,) [rad, rad/s,
    rad/s2], the speed share taken in; solids: (link, solid in the frame of that link).
    """

    name: str
    joints: tuple[str, ...]
    placements: Array
    axes: Array
    tip: Array
    base: Array
    lower: Array
    upper: Array
    velocity: Array
    acceleration: Array
    home: Array
    solids: tuple[tuple[int, Solid], ...] = field(default=())

    @property
    def n(self) -> int:
        """Number of joints."""
        return len(self.joints)


def must_have_one_each(arm: Arm, count: int) -> None:
    """Raises ArmError unless home and max_acceleration have one value per joint."""
    for what, given in (("home", arm.home), ("max_acceleration", arm.max_acceleration)):
        if len(given) != count:
            raise ArmError(
                f"arm {arm.name!r}: {what} needs {count} values, one per joint, found {len(given)}"
            )
