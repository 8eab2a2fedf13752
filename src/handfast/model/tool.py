"""A tool that a hand takes up."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.feature import Feature
from handfast.model.shape import Solid
from handfast.spatial.pose import Pose


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
