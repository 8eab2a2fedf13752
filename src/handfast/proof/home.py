"""Where a mate ends, worked out from its feature pairs and the parts as they now stand."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from handfast.model.mate import FeaturePair, Mate
from handfast.model.product import Product
from handfast.proof.gear_mesh import gear_turn, is_gear_pair
from handfast.proof.stl import Array
from handfast.spatial import se3

COAXIAL = 1e-3
"""A later pair whose axis lies this close [m] to the first one's says nothing about the roll."""


def feature_pose(product: Product, T_world_part: Array, part: str, feature: str) -> Array:
    """T_world_feature. Raises KeyError."""
    return np.asarray(T_world_part @ product.part(part).feature(feature).frame.matrix)


def pair_target(product: Product, pair: FeaturePair, pose_of: Callable[[str], Array]) -> Array:
    """T_world_target: where the moving feature's frame has to be, its roll apart."""
    fixed = feature_pose(product, pose_of(pair.fixed_part), pair.fixed_part, pair.fixed)
    return np.asarray(fixed @ se3.translation(0.0, 0.0, pair.depth))


def home_pose(product: Product, mate: Mate, pose_of: Callable[[str], Array]) -> Array:
    """T_world_part at home. The roll about the first pair's z: as the part now has it if free, else such that
    a later pair's axis meets its own, else such that its teeth mesh, else that of the fixed feature's frame.
    Raises KeyError for a feature that is not there."""
    first = mate.pairs[0]
    target = pair_target(product, first, pose_of)
    T_part_moving = product.part(mate.part).feature(first.moving).frame.matrix
    if mate.free_roll:
        roll = _roll_of(se3.inverse(target) @ pose_of(mate.part) @ T_part_moving)
    else:
        roll = _roll_by_pairs(product, mate, pose_of, target)
    turned = target @ se3.rotation(np.array([0.0, 0.0, 1.0]), roll)
    return np.asarray(turned @ se3.inverse(T_part_moving))


def _roll_of(T: Array) -> float:
    """The turn about z that comes closest to a rotation."""
    return math.atan2(T[1, 0] - T[0, 1], T[0, 0] + T[1, 1])


def _roll_by_pairs(product: Product, mate: Mate, pose_of: Callable[[str], Array], target: Array) -> float:
    part = product.part(mate.part)
    T_moving_part = se3.inverse(part.feature(mate.pairs[0].moving).frame.matrix)
    for pair in mate.pairs[1:]:
        wanted = (se3.inverse(target) @ pair_target(product, pair, pose_of))[:2, 3]
        own = (T_moving_part @ part.feature(pair.moving).frame.matrix)[:2, 3]
        if min(np.linalg.norm(wanted), np.linalg.norm(own)) > COAXIAL:
            return math.atan2(wanted[1], wanted[0]) - math.atan2(own[1], own[0])
    now = _roll_of(se3.inverse(target) @ pose_of(mate.part) @ se3.inverse(T_moving_part))
    for pair in mate.pairs[1:]:
        if is_gear_pair(product, mate.part, pair):
            T_world_part = target @ se3.rotation(np.array([0.0, 0.0, 1.0]), now) @ T_moving_part
            turn = gear_turn(product, mate.part, pair, T_world_part, pose_of(pair.fixed_part))
            same_way = (T_moving_part @ part.feature(pair.moving).frame.matrix)[2, 2] > 0
            return now + (turn if same_way else -turn)
    return 0.0


def pair_errors(
    product: Product, mate: Mate, T_world_part: Array, pose_of: Callable[[str], Array]
) -> list[tuple[FeaturePair, float, float]]:
    """For each pair, how far [m] the moving feature lies off its target and how far [rad] its z is tilted."""
    out = []
    for pair in mate.pairs:
        T = se3.inverse(pair_target(product, pair, pose_of)) @ feature_pose(
            product, T_world_part, mate.part, pair.moving
        )
        tilt = math.atan2(float(np.hypot(T[0, 2], T[1, 2])), float(T[2, 2]))
        aside = math.hypot(T[0, 3], T[1, 3]) - _centres(product, mate, pair)
        out.append((pair, math.hypot(aside, T[2, 3]), tilt))
    return out


def _centres(product: Product, mate: Mate, pair: FeaturePair) -> float:
    """How far apart [m] the axes of a pair are at home: not at all, or half the sum of two pitch circles'
    diameters."""
    both = product.part(mate.part).feature(pair.moving), product.part(pair.fixed_part).feature(pair.fixed)
    return sum((f.module or 0.0) * (f.teeth or 0) for f in both if f.kind == "gear") / 2


def home_error(T_world_home: Array, T_world_part: Array) -> tuple[float, float]:
    """How far a part lies off its home [m, rad]."""
    return se3.distance(T_world_home, T_world_part)
