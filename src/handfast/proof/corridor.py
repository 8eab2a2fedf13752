"""Where two bodies may touch: straight corridors that follow from mates, places, tools and touches.

A corridor answers with a relief: None where the bodies may not touch; else the step (3,) in the world [m] by
which the first body is set back before it must, drawn in, be clear of the second. `reach` [m] and `turn`
[rad] are how far it may still move from the pose asked about: the corridor has to hold it there too."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from handfast.proof.stl import Array
from handfast.proof.tolerances import (
    PLACE_EXIT,
    PLACE_LATERAL,
    PLACE_TILT,
)
from handfast.spatial import se3

PoseOf = Callable[[str], Array]


NO_STEP = np.zeros(3)


class Corridor(Protocol):
    """Where a pair may touch."""

    def relief(self, pose_of: PoseOf, reach: float, turn: float) -> Array | None:
        """None, or the step by which to set the first body back."""
        ...


@dataclass(frozen=True)
class Always:
    """A pair that may touch for as long as it is allowed at all: pads and what is between them."""

    def relief(self, pose_of: PoseOf, reach: float, turn: float) -> Array | None:
        """No step."""
        return NO_STEP


@dataclass(frozen=True)
class PlaceCorridor:
    """The lines through a place along its z, either way, and straight up, PLACE_EXIT long."""

    item: str
    slack: float
    slack_angle: float
    T_world_place: Array

    def relief(self, pose_of: PoseOf, reach: float, turn: float) -> Array | None:
        """No step, in the corridor."""
        off = se3.inverse(self.T_world_place) @ pose_of(self.item)
        if angle_of(off) + turn > PLACE_TILT + self.slack_angle:
            return None
        lifted = self.T_world_place[:3, :3] @ off[:3, 3]
        either_way = self._on_line(off[0, 3], off[1, 3], abs(float(off[2, 3])), reach)
        up = lifted[2] >= -PLACE_LATERAL and self._on_line(lifted[0], lifted[1], float(lifted[2]), reach)
        return NO_STEP if either_way or up else None

    def _on_line(self, x: float, y: float, along: float, reach: float) -> bool:
        lateral = math.hypot(max(abs(x) - self.slack, 0.0), max(abs(y) - self.slack, 0.0))
        return lateral + reach <= PLACE_LATERAL and along + reach <= PLACE_EXIT


def angle_of(T: Array) -> float:
    """Angle of a rotation [rad], from |R - 1| = 2 sqrt(2) sin(angle/2) (Frobenius)."""
    return 2 * math.asin(min(float(np.linalg.norm(T[:3, :3] - np.eye(3))) / math.sqrt(8.0), 1.0))
