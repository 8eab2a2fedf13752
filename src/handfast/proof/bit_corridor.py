"""Where a bit may touch its screw: the socket's axis."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from handfast.proof.corridor import PoseOf
from handfast.proof.stl import Array
from handfast.proof.tolerances import (
    CORRIDOR,
    CORRIDOR_TILT,
    LEAD,
    POSITION,
    SKIN,
)
from handfast.spatial import se3


@dataclass(frozen=True)
class BitCorridor:
    """The axis of a screw's socket: the bit enters it by design, so the tool is set back by how deep it is
    in."""

    tool: str
    part: str
    T_tool_bit: Array
    T_part_socket: Array
    depth: float

    def relief(self, pose_of: PoseOf, reach: float, turn: float) -> Array | None:
        """Back along the bit."""
        T_world_bit = pose_of(self.tool) @ self.T_tool_bit
        lateral, tilt, depth = bit_offset(T_world_bit, pose_of(self.part) @ self.T_part_socket)
        if lateral + reach > CORRIDOR or tilt + turn > CORRIDOR_TILT:
            return None
        if not -LEAD <= depth <= self.depth + POSITION:
            return None
        return np.asarray(-T_world_bit[:3, 2] * (max(depth, 0.0) + SKIN))


def bit_offset(T_world_bit: Array, T_world_socket: Array) -> tuple[float, float, float]:
    """How far the bit lies off the socket's axis [m], its tilt [rad], and how deep it is in [m]."""
    off = se3.inverse(T_world_socket) @ T_world_bit
    tilt = math.atan2(math.hypot(off[0, 2], off[1, 2]), off[2, 2])
    return math.hypot(off[0, 3], off[1, 3]), tilt, float(off[2, 3])
