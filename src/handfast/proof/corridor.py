"""Where two bodies may touch: straight corridors that follow from mates, places, tools and touches.

A corridor answers with a relief: None where the bodies may not touch; else the step (3,) in the world [m] by
which the first body is set back before it must, drawn in, be clear of the second. `reach` [m] and `turn`
[rad] are how far it may still move from the pose asked about: the corridor has to hold it there too.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from handfast.model.feature import Feature
from handfast.model.mate import FeaturePair, Mate
from handfast.model.product import Product
from handfast.model.touch import Touch
from handfast.proof.home import COAXIAL
from handfast.proof.stl import Array
from handfast.proof.tolerances import (
    CORRIDOR,
    CORRIDOR_TILT,
    LEAD,
    PLACE_EXIT,
    PLACE_LATERAL,
    PLACE_TILT,
    POSITION,
    RESOLUTION,
    SKIN,
    TOUCH_LEAD,
)
from handfast.spatial import se3

PoseOf = Callable[[str], Array]
NO_STEP = np.zeros(3)
INWARD = ("hole", "slot", "groove", "ring")
"""Features that go over something: they move home against their z."""


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
class MateCorridor:
    """The line through home along the first pair's axis, from LEAD before the features meet to home.

    part, fixed_part; T_part_moving, T_fixed_target: frames of the moving feature and of where it goes;
    inward: +1 if the part moves home along the target's z, -1 against it; length [m]: of the corridor; roll:
    what turns it must not have, as the pair (feature of the part, feature of a fixed part) whose axes meet at
    home, or None where it is free.
    """

    part: str
    fixed_part: str
    T_part_moving: Array
    T_fixed_target: Array
    inward: float
    length: float
    free_roll: bool
    second: tuple[str, Array, Array] | None

    def relief(self, pose_of: PoseOf, reach: float, turn: float) -> Array | None:
        """No step, in the corridor."""
        T_world_part = pose_of(self.part)
        target = pose_of(self.fixed_part) @ self.T_fixed_target
        off = se3.inverse(target) @ T_world_part @ self.T_part_moving
        if math.hypot(off[0, 3], off[1, 3]) + reach > CORRIDOR:
            return None
        to_go = -self.inward * float(off[2, 3])
        if to_go + reach > self.length or to_go < -POSITION:
            return None
        tilt = math.atan2(math.hypot(off[0, 2], off[1, 2]), off[2, 2])
        roll = abs(self._roll(off, target, pose_of))
        return NO_STEP if max(tilt, roll) + turn <= CORRIDOR_TILT else None

    def _roll(self, off: Array, target: Array, pose_of: PoseOf) -> float:
        """How far the part is turned from home about the axis [rad]."""
        turned = math.atan2(off[1, 0] - off[0, 1], off[0, 0] + off[1, 1])
        if self.free_roll:
            return 0.0
        if self.second is None:
            return turned
        other, T_other_target, own = self.second
        wanted = se3.inverse(target) @ pose_of(other) @ T_other_target[:, 3]
        roll = turned + math.atan2(own[1], own[0]) - math.atan2(wanted[1], wanted[0])
        return math.remainder(roll, 2 * math.pi)


def mate_corridor(product: Product, mate: Mate) -> MateCorridor:
    """The corridor of a mate. Raises KeyError for a feature that is not there."""
    first, part = mate.pairs[0], product.part(mate.part)
    moving = part.feature(first.moving)
    T_part_moving = moving.frame.matrix
    T_fixed_target = _target(product, first)
    second = None
    for pair in mate.pairs[1:]:
        own = (se3.inverse(T_part_moving) @ part.feature(pair.moving).frame.matrix)[:, 3]
        if second is None and math.hypot(own[0], own[1]) > COAXIAL:
            second = (pair.fixed_part, _target(product, pair), own)
    length = max(moving.length or 0.0, *(abs(pair.depth) for pair in mate.pairs)) + LEAD
    inward = -1.0 if goes_over(moving) else 1.0
    return MateCorridor(
        mate.part, first.fixed_part, T_part_moving, T_fixed_target, inward, length, mate.free_roll, second
    )


def _target(product: Product, pair: FeaturePair) -> Array:
    """T_fixedpart_target: the fixed feature's frame, moved on by the pair's depth."""
    frame = product.part(pair.fixed_part).feature(pair.fixed).frame.matrix
    return np.asarray(frame @ se3.translation(0.0, 0.0, pair.depth))


def goes_over(feature: Feature) -> bool:
    """True if the feature moves home against its z, as a hole does over a shaft."""
    return feature.kind in INWARD or (feature.kind == "thread" and feature.internal)


@dataclass(frozen=True)
class PlaceCorridor:
    """The line through a place along its z, either way, PLACE_EXIT long."""

    item: str
    slack: float
    slack_angle: float
    T_world_place: Array

    def relief(self, pose_of: PoseOf, reach: float, turn: float) -> Array | None:
        """No step, in the corridor."""
        off = se3.inverse(self.T_world_place) @ pose_of(self.item)
        x, y = (max(abs(float(v)) - self.slack, 0.0) for v in off[:2, 3])
        if math.hypot(x, y) + reach > PLACE_LATERAL or abs(float(off[2, 3])) + reach > PLACE_EXIT:
            return None
        return NO_STEP if angle_of(off) + turn <= PLACE_TILT + self.slack_angle else None


def angle_of(T: Array) -> float:
    """Angle of a rotation [rad], from |R - 1| = 2 sqrt(2) sin(angle/2) (Frobenius)."""
    return 2 * math.asin(min(float(np.linalg.norm(T[:3, :3] - np.eye(3))) / math.sqrt(8.0), 1.0))


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


@dataclass(frozen=True)
class TouchCorridor:
    """A guarded move: from the stated travel before the face to the stated overtravel behind it."""

    product: Product
    touch: Touch

    def relief(self, pose_of: PoseOf, reach: float, turn: float) -> Array | None:
        """Back along the guarded move, by as much as it may press on."""
        found = touch_gap(self.product, self.touch, pose_of)
        if found is None:
            return None
        gap, inside, towards = found
        overtravel = self.touch.overtravel
        if not inside or not -overtravel - RESOLUTION <= gap <= self.touch.travel + TOUCH_LEAD:
            return None
        return np.asarray(-towards * (max(-gap, 0.0) + SKIN))


def touch_gap(product: Product, touch: Touch, pose_of: PoseOf) -> tuple[float, bool, Array] | None:
    """Way still to go to the face [m], whether it is met within its edges, and the direction in the world.

    None if the guarded move does not lead into the face at all.
    """
    face = product.part(touch.part).feature(touch.feature)
    T_world_face = pose_of(touch.part) @ face.frame.matrix
    point = se3.inverse(T_world_face) @ pose_of(touch.held) @ np.array([*touch.point, 1.0])
    direction = np.array(touch.direction)
    if direction[2] > -0.5:
        return None
    gap = float(point[2] / -direction[2])
    met = point[:3] + gap * direction
    inside = face.size is None or bool(np.all(np.abs(met[:2]) <= np.array(face.size) / 2))
    return gap, inside, np.asarray(T_world_face[:3, :3] @ direction)
