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

    def relief(self, pose_of: PoseOf, reach: float, turn: float, along: float | None = None) -> Array | None:
        """Back along the bit. along [m]: how far the tool may still move along the axis, where that is known
        apart from the rest; then only while the bit is in the socket, where all of it is taken back."""
        T_world_bit = pose_of(self.tool) @ self.T_tool_bit
        lateral, tilt, depth = bit_offset(T_world_bit, pose_of(self.part) @ self.T_part_socket)
        if lateral + reach > CORRIDOR or tilt + turn > CORRIDOR_TILT:
            return None
        if not -LEAD <= depth <= self.depth + POSITION:
            return None
        if along is not None and not along <= depth <= self.depth + POSITION - along:
            return None
        return np.asarray(-T_world_bit[:3, 2] * (max(depth, 0.0) + SKIN))

    @property
    def mover(self) -> str:
        """The body that goes home along the line."""
        return self.tool

    def axis(self, pose_of: PoseOf) -> Array:
        """Direction of the socket's axis in the world, (3,)."""
        return np.asarray((pose_of(self.part) @ self.T_part_socket)[:3, 2])

    def home(self, pose_of: PoseOf) -> float:
        """How far ahead along the axis the floor of the socket lies [m]."""
        return self.depth - self._offset(pose_of)[2]

    def aslant(self, pose_of: PoseOf, centre: Array, half: float, turn: float) -> float:
        """How far a piece of the tool, set back, moves at most while the tool moves by `half` [m] either way
        along the axis and turns by `turn` [rad], beside what its centre (3,) moves off the axis [m].

        What is taken back is how deep the bit's origin is, along the bit: that turns with the tool, and
        leans by its tilt.
        """
        _, tilt, depth = self._offset(pose_of)
        lever = float(np.linalg.norm((pose_of(self.tool) @ self.T_tool_bit)[:3, 3] - centre))
        return half * (tilt + turn) + turn * (lever + max(depth, 0.0) + half + SKIN)

    def _offset(self, pose_of: PoseOf) -> tuple[float, float, float]:
        return bit_offset(pose_of(self.tool) @ self.T_tool_bit, pose_of(self.part) @ self.T_part_socket)


def bit_offset(T_world_bit: Array, T_world_socket: Array) -> tuple[float, float, float]:
    """How far the bit lies off the socket's axis [m], its tilt [rad], and how deep it is in [m]."""
    off = se3.inverse(T_world_socket) @ T_world_bit
    tilt = math.atan2(math.hypot(off[0, 2], off[1, 2]), off[2, 2])
    return math.hypot(off[0, 3], off[1, 3]), tilt, float(off[2, 3])
