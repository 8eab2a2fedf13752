"""Two gears in mesh: how far one has to turn about its axis until its teeth lie in the middle of the other's
gaps. Outside gears whose z axes point the same way; the x axis of each
frame runs through the middle of a tooth."""

from __future__ import annotations

import math

from handfast.model.feature import Feature
from handfast.model.mate import FeaturePair
from handfast.model.product import Product
from handfast.proof.stl import Array
from handfast.spatial import se3


def is_gear_pair(product: Product, part: str, pair: FeaturePair) -> bool:
    """True if both features of a pair are gears."""
    kinds = (
        product.part(part).feature(pair.moving).kind,
        product.part(pair.fixed_part).feature(pair.fixed).kind,
    )
    return kinds == ("gear", "gear")


def turn_into_mesh(fixed: Feature, moving: Feature, T_fixed_moving: Array) -> float:
    """Smallest turn [rad] of the moving gear about its z after which a tooth of one points at a gap of the
    other.

    Counted in pitches along the line of centres, the tooth of one and the gap of the other nearest to it have
    to fall together: rolling on each other leaves the sum of both counts as it is.
    """
    teeth = moving.teeth or 1
    towards = math.atan2(T_fixed_moving[1, 3], T_fixed_moving[0, 3])
    own = math.atan2(T_fixed_moving[1, 0], T_fixed_moving[0, 0])
    pitches = (fixed.teeth or 1) * towards / math.tau + teeth * (towards + math.pi - own) / math.tau
    off = pitches - 0.5
    return (off - round(off)) * math.tau / teeth


def gear_turn(
    product: Product, part: str, pair: FeaturePair, T_world_part: Array, T_world_fixed: Array
) -> float:
    """turn_into_mesh of a pair of gears as two parts stand. Raises KeyError for a feature that is not
    there."""
    moving = product.part(part).feature(pair.moving)
    fixed = product.part(pair.fixed_part).feature(pair.fixed)
    T_fixed_moving = se3.inverse(T_world_fixed @ fixed.frame.matrix) @ T_world_part @ moving.frame.matrix
    return turn_into_mesh(fixed, moving, T_fixed_moving)
