"""Where a mate lets its part touch: the line through home."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from handfast.model.feature import Feature
from handfast.model.mate import FeaturePair, Mate
from handfast.model.product import Product
from handfast.proof.corridor import NO_STEP, PoseOf
from handfast.proof.gear_mesh import gear_turn, is_gear_pair
from handfast.proof.home import COAXIAL
from handfast.proof.stl import Array
from handfast.proof.tolerances import (
    CORRIDOR,
    CORRIDOR_TILT,
    LEAD,
    POSITION,
)
from handfast.spatial import se3

INWARD = ("hole", "slot", "groove", "ring")
"""Features that go over something: they move home against their z."""


@dataclass(frozen=True)
class MateCorridor:
    """The line through home along the first pair's axis, from LEAD before the features meet to home.

    part, fixed_part; T_part_moving, T_fixed_target: frames of the moving feature and of where it goes;
    inward: +1 if the part moves home along the target's z, -1 against it; length [m]: of the corridor;
    second: what gives the roll where it is not free, as (fixed part, its feature, the part's feature) whose
    axes meet at home; gears: the product and the pair of gears that give it, where no axis does.
    """

    part: str
    fixed_part: str
    T_part_moving: Array
    T_fixed_target: Array
    inward: float
    length: float
    free_roll: bool
    second: tuple[str, Array, Array] | None
    gears: tuple[Product, FeaturePair] | None = None

    def relief(self, pose_of: PoseOf, reach: float, turn: float, along: float | None = None) -> Array | None:
        """No step, in the corridor. along [m]: how far the part may still move along the line, where that is
        known apart from the rest."""
        lateral, tilt, to_go = self.offset(pose_of)
        if lateral + reach > CORRIDOR or tilt + turn > CORRIDOR_TILT:
            return None
        if to_go + (reach if along is None else along) > self.length or to_go - (along or 0.0) < -POSITION:
            return None
        return NO_STEP if abs(self._roll(pose_of)) + turn <= CORRIDOR_TILT else None

    @property
    def mover(self) -> str:
        """The body that goes home along the line."""
        return self.part

    def axis(self, pose_of: PoseOf) -> Array:
        """Direction of the line in the world, (3,)."""
        return np.asarray((pose_of(self.fixed_part) @ self.T_fixed_target)[:3, 2])

    def home(self, pose_of: PoseOf) -> float:
        """How far ahead along the axis home lies [m]; negative where it lies behind."""
        return self.inward * self.offset(pose_of)[2]

    def is_engaged(self, pose_of: PoseOf) -> bool:
        """True where the features of the mate are in each other."""
        return self.offset(pose_of)[2] < self.length - LEAD

    def offset(self, pose_of: PoseOf) -> tuple[float, float, float]:
        """How far the part lies off the line [m], how far it is tilted [rad], and how far it has still to go
        [m]."""
        off = self._off(pose_of)
        tilt = math.atan2(math.hypot(off[0, 2], off[1, 2]), off[2, 2])
        return math.hypot(off[0, 3], off[1, 3]), tilt, -self.inward * float(off[2, 3])

    def _off(self, pose_of: PoseOf) -> Array:
        """T_target_moving."""
        target = pose_of(self.fixed_part) @ self.T_fixed_target
        return np.asarray(se3.inverse(target) @ pose_of(self.part) @ self.T_part_moving)

    def _roll(self, pose_of: PoseOf) -> float:
        """How far the part is turned from home about the axis [rad]."""
        if self.free_roll:
            return 0.0
        if self.gears is not None:
            product, pair = self.gears
            return gear_turn(product, self.part, pair, pose_of(self.part), pose_of(pair.fixed_part))
        off = self._off(pose_of)
        turned = math.atan2(off[1, 0] - off[0, 1], off[0, 0] + off[1, 1])
        if self.second is None:
            return turned
        other, T_other_target, own = self.second
        target = pose_of(self.fixed_part) @ self.T_fixed_target
        wanted = se3.inverse(target) @ pose_of(other) @ T_other_target[:, 3]
        roll = turned + math.atan2(own[1], own[0]) - math.atan2(wanted[1], wanted[0])
        return math.remainder(roll, 2 * math.pi)


def mate_corridor(product: Product, mate: Mate) -> MateCorridor:
    """The corridor of a mate. Raises KeyError for a feature that is not there."""
    first, part = mate.pairs[0], product.part(mate.part)
    moving = part.feature(first.moving)
    T_part_moving = moving.frame.matrix
    T_fixed_target = _target(product, first)
    second, gears = None, None
    for pair in mate.pairs[1:]:
        own = (se3.inverse(T_part_moving) @ part.feature(pair.moving).frame.matrix)[:, 3]
        if second is None and math.hypot(own[0], own[1]) > COAXIAL:
            second = (pair.fixed_part, _target(product, pair), own)
        if is_gear_pair(product, mate.part, pair):
            gears = (product, pair)
    length = max(moving.length or 0.0, *(abs(pair.depth) for pair in mate.pairs)) + LEAD
    fixed = product.part(first.fixed_part).feature(first.fixed)
    inward = -1.0 if goes_over(moving) and fixed.kind != "groove" else 1.0
    return MateCorridor(
        mate.part,
        first.fixed_part,
        T_part_moving,
        T_fixed_target,
        inward,
        length,
        mate.free_roll,
        second,
        gears if second is None else None,
    )


def _target(product: Product, pair: FeaturePair) -> Array:
    """T_fixedpart_target: the fixed feature's frame, moved on by the pair's depth."""
    frame = product.part(pair.fixed_part).feature(pair.fixed).frame.matrix
    return np.asarray(frame @ se3.translation(0.0, 0.0, pair.depth))


def goes_over(feature: Feature) -> bool:
    """True if the feature moves home against its z, as a hole does over a shaft, or a ring that does not go
    into a groove."""
    return feature.kind in INWARD or (feature.kind == "thread" and feature.internal)
