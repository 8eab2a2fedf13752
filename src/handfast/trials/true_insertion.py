"""An insertion as it really stands in this build: sizes, frames and the way the hand goes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.model.feature import Feature
from handfast.model.mate import FeaturePair, Mate
from handfast.model.product import Product
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.contact_shapes import RoundHole, RoundShaft
from handfast.trials.true_cell import TrueCell

# a shaft goes on this far behind its drawn length, so that its end never comes to lie at the mouth [m]
_BEYOND = 0.005


@dataclass(frozen=True, slots=True)
class HandWay:
    """The hand's true grip frame (4, 4) at both ends of its commanded line."""

    T_world_grip_start: Array
    T_world_grip_home: Array


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
    return np.asarray(T_fixed_world @ seat_in_world(cell, mate))


def seat_in_world(cell: TrueCell, mate: Mate) -> Array:
    """Where the part beneath has the mate's first moving feature at home, by its drawing (4, 4)."""
    return np.asarray(cell.T_world(mate.into) @ _T_into_moving(cell.project.product, mate, mate.pairs[0]))


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
