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
UP = np.array([0.0, 0.0, 1.0])


class Corridor(Protocol):
    """Where a pair may touch."""

    def relief(self, pose_of: PoseOf, reach: float, turn: float) -> Array | None:
        """None, or the step by which to set the first body back."""
        ...


class Line(Corridor, Protocol):
    """A corridor along a straight line."""

    def relief(self, pose_of: PoseOf, reach: float, turn: float, along: float | None = None) -> Array | None:
        """As of any corridor. along [m]: how far the first body may still move along the line, where that is
        known apart from the rest."""
        ...

    @property
    def mover(self) -> str:
        """The body that goes home along the line."""
        ...

    def axis(self, pose_of: PoseOf) -> Array:
        """Direction of the line in the world, (3,)."""
        ...

    def home(self, pose_of: PoseOf) -> float:
        """How far ahead along the axis home lies [m]; negative where it lies behind."""
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

    def relief(self, pose_of: PoseOf, reach: float, turn: float, along: float | None = None) -> Array | None:
        """No step, in the corridor. along [m]: how far the item may still move along the line, where that is
        known apart from the rest."""
        off = self._off(pose_of)
        if angle_of(off) + turn > PLACE_TILT + self.slack_angle:
            return None
        if along is None:
            inside = self._is_along(off, reach, reach) or self._is_up(off, reach, reach)
        elif self._is_along(off, 0.0, 0.0):
            inside = self._is_along(off, reach, along)
        else:
            inside = self._is_up(off, reach, along)
        return NO_STEP if inside else None

    @property
    def mover(self) -> str:
        """The body that goes home along the line."""
        return self.item

    def axis(self, pose_of: PoseOf) -> Array:
        """Direction in the world of the line that the item is on, (3,)."""
        return np.asarray(self.T_world_place[:3, 2] if self._is_along(self._off(pose_of), 0.0, 0.0) else UP)

    def home(self, pose_of: PoseOf) -> float:
        """How far ahead along the axis home lies [m]; negative where it lies behind."""
        step = self.T_world_place[:3, 3] - pose_of(self.item)[:3, 3]
        return float(self.axis(pose_of) @ step)

    def _off(self, pose_of: PoseOf) -> Array:
        """T_place_item."""
        return np.asarray(se3.inverse(self.T_world_place) @ pose_of(self.item))

    def _is_along(self, off: Array, reach: float, further: float) -> bool:
        return self._on_line(off[:3, 3], reach, abs(float(off[2, 3])) + further)

    def _is_up(self, off: Array, reach: float, further: float) -> bool:
        lifted = self.T_world_place[:3, :3] @ off[:3, 3]
        height = float(lifted[2])
        return height >= -PLACE_LATERAL and self._on_line(lifted, reach, height + further)

    def _on_line(self, off: Array, reach: float, along: float) -> bool:
        lateral = math.hypot(*(max(abs(float(v)) - self.slack, 0.0) for v in off[:2]))
        return lateral + reach <= PLACE_LATERAL and along <= PLACE_EXIT


def angle_of(T: Array) -> float:
    """Angle of a rotation [rad], from |R - 1| = 2 sqrt(2) sin(angle/2) (Frobenius)."""
    return 2 * math.asin(min(float(np.linalg.norm(T[:3, :3] - np.eye(3))) / math.sqrt(8.0), 1.0))
