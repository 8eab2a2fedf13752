"""Where the moving part of a mate is when it enters, and when it is home."""

from __future__ import annotations

import numpy as np

from handfast.model.chart import Chart
from handfast.model.mate import Mate
from handfast.model.product import Product
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.uncertainty.chain_state import State


def home_pose(state: State, chart: Chart, product: Product, mate: Mate, element: str) -> Array:
    """T_world_part at home: as the chart leaves it, so that a free roll is the one planned; else from the mate itself."""
    for later in chart.elements:
        leaves = later.leaves
        if leaves is not None and leaves.item == mate.part and leaves.parent.startswith("part."):
            return state.nominal(leaves.parent.removeprefix("part."), element) @ leaves.pose.matrix
    return _home_from_mate(state, product, mate, element)


def entry_pose(T_world_home: Array, T_world_fixed: Array, depth: float) -> Array:
    """T_world_part where the moving origin meets the fixed origin: the home pose drawn back along the fixed z axis."""
    back = T_world_fixed @ se3.translation(0.0, 0.0, -depth) @ se3.inverse(T_world_fixed)
    return np.asarray(back @ T_world_home)


def fixed_frame(state: State, product: Product, part: str, feature: str, element: str) -> Array:
    """T_world_feature, nominal."""
    return np.asarray(state.nominal(part, element) @ product.part(part).feature(feature).frame.matrix)


def _home_from_mate(state: State, product: Product, mate: Mate, element: str) -> Array:
    first = mate.pairs[0]
    moving = product.part(mate.part)
    T_world_fixed = fixed_frame(state, product, first.fixed_part, first.fixed, element)
    T_first_part = se3.inverse(moving.feature(first.moving).frame.matrix)
    at_zero = T_world_fixed @ se3.translation(0.0, 0.0, first.depth) @ T_first_part
    if mate.free_roll or len(mate.pairs) < 2:
        return np.asarray(at_zero)
    second = mate.pairs[1]
    wanted = se3.inverse(T_world_fixed) @ fixed_frame(state, product, second.fixed_part, second.fixed, element)
    found = se3.inverse(T_world_fixed) @ at_zero @ moving.feature(second.moving).frame.matrix
    roll = np.arctan2(wanted[1, 3], wanted[0, 3]) - np.arctan2(found[1, 3], found[0, 3])
    turned = se3.rotation(np.array([0.0, 0.0, 1.0]), float(roll))
    return np.asarray(T_world_fixed @ se3.translation(0.0, 0.0, first.depth) @ turned @ T_first_part)
