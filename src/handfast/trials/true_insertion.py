"""An insertion as it really stands in this build: sizes, frames and the way the hand goes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from handfast.model.feature import Feature
from handfast.model.mate import FeaturePair, Mate
from handfast.model.product import Product
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.contact_shapes import RoundHole, RoundShaft
from handfast.trials.insertion_model import Support
from handfast.trials.peg_in_hole import PegInHole
from handfast.trials.true_cell import TrueCell

# a shaft goes on this far behind its drawn length, so that its end never comes to lie at the mouth [m]
_BEYOND = 0.005


@dataclass(frozen=True, slots=True)
class HandWay:
    """The hand's true grip frame (4, 4) at both ends of its commanded line."""

    T_world_grip_start: Array
    T_world_grip_home: Array


def true_insertion(cell: TrueCell, mate: Mate, way: HandWay, force_limit: float) -> PegInHole:
    """The task for the contact simulation. Raises ValueError for a mate that is not a round shaft with a
    round hole."""
    pair = mate.pairs[0]
    product, controller = cell.project.product, cell.project.cell.controller
    part, other = product.part(mate.part), product.part(pair.fixed_part)
    moving, fixed = part.feature(pair.moving), other.feature(pair.fixed)
    which, hole, shaft = _shapes(cell, mate, moving, fixed)
    T_fixed_world = se3.inverse(cell.T_world_feature(pair.fixed_part, pair.fixed))
    T_grip_part = se3.inverse(way.T_world_grip_home) @ cell.T_world(
        mate.part, T_world_grip=way.T_world_grip_home
    )
    T_grip_moving = T_grip_part @ cell.T_part_feature(mate.part, moving)
    home = T_fixed_world @ way.T_world_grip_home @ T_grip_moving
    start = home.copy()
    start[:3, 3] = (T_fixed_world @ way.T_world_grip_start @ T_grip_moving)[:3, 3]
    # Equal stiffness along and across: the hand yields as a whole, on springs or by force control.
    stiffness = controller.lateral_stiffness
    support = Support(stiffness, stiffness, controller.angular_stiffness, se3.inverse(T_grip_moving))
    seat = seat_of(cell, mate, T_fixed_world) if mate.kind == "seat" and which == "hole" else None
    return PegInHole(hole, shaft, which, start, home, support, controller.insert_speed, force_limit,
                     0.5 * (part.friction + other.friction), seat)  # fmt: skip


def _shapes(
    cell: TrueCell, mate: Mate, moving: Feature, fixed: Feature
) -> tuple[Literal["shaft", "hole"], RoundHole, RoundShaft]:
    parts = (mate.part, mate.pairs[0].fixed_part)
    if (moving.kind, fixed.kind) == ("shaft", "hole"):
        return "shaft", hole_of(cell, parts[1], fixed), shaft_of(cell, parts[0], moving)
    if (moving.kind, fixed.kind) == ("hole", "shaft"):
        return "hole", hole_of(cell, parts[0], moving), shaft_of(cell, parts[1], fixed)
    raise ValueError(
        f"mate {mate.name!r}: expected a shaft and a hole, found {moving.kind} {moving.name!r} "
        f"and {fixed.kind} {fixed.name!r}; only round holes are tried in contact"
    )


def hole_of(cell: TrueCell, part: str, feature: Feature) -> RoundHole:
    """A hole or a slot with the size of this build."""
    width, angle = _lead_in(cell, part, feature)
    half = (feature.size[0] - feature.size[1]) / 2 if feature.kind == "slot" and feature.size else 0.0
    return RoundHole(
        cell.draws_of(part).diameter(part, feature) / 2, _length(part, feature), width, float(angle), half
    )


def shaft_of(cell: TrueCell, part: str, feature: Feature) -> RoundShaft:
    """A shaft with the size of this build."""
    width, angle = _lead_in(cell, part, feature)
    return RoundShaft(
        cell.draws_of(part).diameter(part, feature) / 2, _length(part, feature) + _BEYOND, width, float(angle)
    )


def _lead_in(cell: TrueCell, part: str, feature: Feature) -> tuple[float, float]:
    """Width [m] and angle [rad] of the chamfer, none where this part lacks it."""
    if feature.chamfer is None or cell.draws_of(part).has("no chamfer", part, feature):
        return 0.0, np.pi / 4
    return feature.chamfer.width, feature.chamfer.angle


def _length(part: str, feature: Feature) -> float:
    if feature.length is None:
        raise ValueError(f"{part}.{feature.name}: expected a length, found none; write `length: 20 mm`")
    return feature.length


def seat_of(cell: TrueCell, mate: Mate, T_fixed_world: Array) -> Array:
    """The plane on the part beneath where the moving hole's mouth comes to rest, in the fixed feature's
    frame (4, 4)."""
    return np.asarray(
        T_fixed_world @ cell.T_world(mate.into) @ _T_into_moving(cell.project.product, mate, mate.pairs[0])
    )


def _T_into_moving(product: Product, mate: Mate, pair: FeaturePair) -> Array:
    """Nominal home of the moving feature in the part beneath (4, 4), up to a turn about its own axis."""
    T_into_part, part = np.eye(4), pair.fixed_part
    while part != mate.into:
        below = next((m for m in product.mates if m.part == part), None)
        if below is None:
            raise ValueError(f"mate {mate.name!r}: {pair.fixed_part!r} does not stand on {mate.into!r}")
        first = below.pairs[0]
        own = product.part(part).feature(first.moving).frame.matrix
        on = product.part(first.fixed_part).feature(first.fixed).frame.matrix
        T_into_part = on @ se3.translation(0, 0, first.depth) @ se3.inverse(own) @ T_into_part
        part = first.fixed_part
    fixed = product.part(pair.fixed_part).feature(pair.fixed).frame.matrix
    return np.asarray(T_into_part @ fixed @ se3.translation(0, 0, pair.depth))
