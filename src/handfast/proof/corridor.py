"""Where two bodies may touch: straight corridors that follow from mates, places, tools and touches.

A corridor answers with a relief: None where the bodies may not touch; else the step (3,) in the world [m] by which the
first body is set back before it must, drawn in, be clear of the second. `reach` [m] and `turn` [rad] are how far it may
still move from the pose asked about: the corridor has to hold it there too.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from handfast.model.feature import Feature
from handfast.model.holder import Place
from handfast.model.mate import Mate
from handfast.model.product import Product
from handfast.model.tool import Tool
from handfast.model.touch import Touch
from handfast.proof.home import feature_pose, home_pose, pair_target
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
    """The line through home along the first pair's axis, from LEAD before the features meet to home."""

    product: Product
    mate: Mate

    def relief(self, pose_of: PoseOf, reach: float, turn: float) -> Array | None:
        """No step, in the corridor."""
        product, mate = self.product, self.mate
        pair = mate.pairs[0]
        moving = product.part(mate.part).feature(pair.moving)
        T_world_part = pose_of(mate.part)
        target = pair_target(product, pair, pose_of)
        off = se3.inverse(target) @ feature_pose(product, T_world_part, mate.part, pair.moving)
        if math.hypot(off[0, 3], off[1, 3]) + reach > CORRIDOR:
            return None
        to_go = float(off[2, 3]) if goes_over(moving) else -float(off[2, 3])
        if to_go + reach > self.length or to_go < -POSITION:
            return None
        _, angle = se3.distance(home_pose(product, mate, pose_of), T_world_part)
        return NO_STEP if angle + turn <= CORRIDOR_TILT else None

    @property
    def length(self) -> float:
        """From where it begins to home [m]."""
        moving = self.product.part(self.mate.part).feature(self.mate.pairs[0].moving)
        return max(moving.length or 0.0, *(abs(pair.depth) for pair in self.mate.pairs)) + LEAD


def goes_over(feature: Feature) -> bool:
    """True if the feature moves home against its z, as a hole does over a shaft."""
    return feature.kind in INWARD or (feature.kind == "thread" and feature.internal)


@dataclass(frozen=True)
class PlaceCorridor:
    """The line through a place along its z, either way, PLACE_EXIT long."""

    item: str
    place: Place
    T_world_place: Array

    def relief(self, pose_of: PoseOf, reach: float, turn: float) -> Array | None:
        """No step, in the corridor."""
        off = se3.inverse(self.T_world_place) @ pose_of(self.item)
        wide = np.maximum(np.abs(off[:2, 3]) - self.place.slack, 0.0)
        if math.hypot(*wide) + reach > PLACE_LATERAL or abs(float(off[2, 3])) + reach > PLACE_EXIT:
            return None
        angle = float(np.linalg.norm(se3.so3_log(off[:3, :3])))
        return NO_STEP if angle + turn <= PLACE_TILT + self.place.slack_angle else None


@dataclass(frozen=True)
class BitCorridor:
    """The axis of a screw's socket: the bit enters it by design, so the tool is set back by how deep it is in."""

    product: Product
    tool: Tool
    part: str
    socket: Feature

    def relief(self, pose_of: PoseOf, reach: float, turn: float) -> Array | None:
        """Back along the bit."""
        T_world_bit = pose_of(self.tool.name) @ self.tool.bit.matrix
        lateral, tilt, depth = bit_offset(T_world_bit, pose_of(self.part) @ self.socket.frame.matrix)
        if lateral + reach > CORRIDOR or tilt + turn > CORRIDOR_TILT:
            return None
        if not -LEAD <= depth <= (self.socket.length or 0.0) + POSITION:
            return None
        return np.asarray(-T_world_bit[:3, 2] * (max(depth, 0.0) + reach + SKIN))


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
        return np.asarray(-towards * (max(-gap, 0.0) + reach + SKIN))


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
