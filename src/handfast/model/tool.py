"""A tool that a hand takes up."""

from __future__ import annotations

import math
from dataclasses import dataclass

from handfast.model.feature import Feature
from handfast.model.shape import Cylinder, Solid
from handfast.spatial import se3
from handfast.spatial.pose import Pose

HANDLE_FRICTION = 0.15
"""Of pads on the handle of a tool; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Spindle:
    """A driven spindle, turns unlimited. speed, slow_speed [rad/s]; torque: largest [N m]; retains: how
    the bit keeps a screw while it is carried ("vacuum", "spring-sleeve" or "none")."""

    speed: float
    slow_speed: float
    torque: float
    retains: str = "vacuum"


@dataclass(frozen=True, slots=True)
class Tool:
    """A tool: gripped by its features like a part. bit: T_tool_bit, z out of the tip of the bit; thread:
    which it fits."""

    name: str
    solids: tuple[Solid, ...]
    features: tuple[Feature, ...]
    mass: float
    bit: Pose
    spindle: Spindle
    threads: tuple[str, ...]


_THICKER = (
    2.0  # a cylinder on the bit's axis this much thicker than its tip is the nose; own choice, no source
)


def bit_solids(tool: Tool) -> tuple[Solid, ...]:
    """The cylinders that are the bit itself and turn with the spindle, from its tip on: about its axis, one
    behind the other, none much thicker than the tip."""
    back = se3.inverse(tool.bit.matrix)
    upon = []
    for solid in tool.solids:
        T = back @ solid.pose.matrix
        if (
            isinstance(solid.shape, Cylinder)
            and abs(T[2, 2]) > 1 - 1e-9
            and math.hypot(T[0, 3], T[1, 3]) < 1e-6
        ):
            upon.append((-float(T[2, 3]) - solid.shape.length / 2, solid.shape.radius, solid))
    upon.sort(key=lambda row: row[0])
    thickest = _THICKER * upon[0][1] if upon else 0.0
    found = []
    for _, radius, solid in upon:
        if radius > thickest:
            break
        found.append(solid)
    return tuple(found)
