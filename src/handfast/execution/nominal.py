"""Where an item should be by the chart: its nominal pose in the world."""

from __future__ import annotations

import numpy as np

from handfast.kinematics.chain import Chain
from handfast.kinematics.forward import forward
from handfast.model.cell import Cell
from handfast.model.named import find
from handfast.model.scene import Scene
from handfast.spatial.se3 import Array


def nominal_pose(item: str, scene: Scene, cell: Cell, chains: dict[str, Chain], q: dict[str, Array]) -> Array:
    """T_world_item (4, 4). q: planned configuration of each arm (n,)."""
    there = scene.of(item)
    kind, _, name = there.parent.partition(".")
    if kind == "place":
        holder_name, _, place_name = name.partition(".")
        holder = cell.holder(holder_name)
        parent = (
            holder.pose.matrix
            @ find(holder.places, place_name, f"on holder {holder_name!r} the place").pose.matrix
        )
    elif kind == "hand":
        parent = forward(chains[name], q[name])[0] @ cell.gripper_of(name).mount.matrix
    elif kind == "tool":
        parent = nominal_pose(name, scene, cell, chains, q) @ cell.tool(name).bit.matrix
    elif kind == "part":
        parent = nominal_pose(name, scene, cell, chains, q)
    else:
        raise KeyError(
            f"{item!r}: expected a place, hand, tool or part as its parent, found {there.parent!r}"
        )
    return np.asarray(parent @ there.pose.matrix)
