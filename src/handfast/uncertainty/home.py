"""Where the moving part of a mate is when it enters, and when it is home."""

from __future__ import annotations

import numpy as np

from handfast.mates.home import home_in
from handfast.model.chart import Chart
from handfast.model.mate import Mate
from handfast.model.product import Product
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.uncertainty.chain_state import State


def home_pose(state: State, chart: Chart, product: Product, mate: Mate, element: str) -> Array:
    """T_world_part at home: as the chart leaves it in the end, so that a free roll is the one planned; else
    from the mate itself. A tightening pattern leaves a screw on its way home several times.
    """
    for later in reversed(chart.elements):
        leaves = later.leaves
        if leaves is not None and leaves.item == mate.part and leaves.parent.startswith("part."):
            return state.nominal(leaves.parent.removeprefix("part."), element) @ leaves.pose.matrix
    return home_in(product, mate, {p.fixed_part: state.nominal(p.fixed_part, element) for p in mate.pairs})


def entry_pose(T_world_home: Array, T_world_fixed: Array, depth: float) -> Array:
    """T_world_part where the moving origin meets the fixed origin: the home pose drawn back along the fixed
    z axis.
    """
    back = T_world_fixed @ se3.translation(0.0, 0.0, -depth) @ se3.inverse(T_world_fixed)
    return np.asarray(back @ T_world_home)


def fixed_frame(state: State, product: Product, part: str, feature: str, element: str) -> Array:
    """T_world_feature, nominal."""
    return np.asarray(state.nominal(part, element) @ product.part(part).feature(feature).frame.matrix)


def rolled_to(T_world_item: Array, T_world_seen: Array, T_world_axis: Array) -> Array:
    """The item turned about the z axis of a frame until it lies as nearly as can be as it was seen."""
    to_axis = T_world_axis[:3, :3]
    turn = to_axis.T @ T_world_seen[:3, :3] @ T_world_item[:3, :3].T @ to_axis
    angle = float(np.arctan2(turn[1, 0] - turn[0, 1], turn[0, 0] + turn[1, 1]))
    about = se3.rotation(np.array([0.0, 0.0, 1.0]), angle)
    return np.asarray(T_world_axis @ about @ se3.inverse(T_world_axis) @ T_world_item)
