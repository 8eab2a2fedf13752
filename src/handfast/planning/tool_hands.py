"""Which hand drives a screw: of hands that cost alike, last one that has few ways to hold the driver."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from handfast.mates.grasps import grasps
from handfast.mates.home import assembled_poses
from handfast.mates.subassemblies import stands_on
from handfast.model.mate import Mate
from handfast.planning.fasten import ROLLS, socket_frame
from handfast.planning.pick import grip_poses
from handfast.planning.route import Route
from handfast.planning.station import reachable
from handfast.planning.unit import Unit
from handfast.planning.workspace import Workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array

FEW = 0.25
"""Share of the ways of the hand that has most to hold the driver, below which a hand is tried last."""


def by_reach(ws: Workspace, unit: Unit, routes: tuple[Route, ...]) -> tuple[Route, ...]:
    """The routes of a unit; where a tool does it, those of hands that hardly reach last.

    What stands in the way is not looked at: this only decides what is tried first. A hand that hardly reaches
    finds little room beside another one that holds the part down; one that reaches most may have the longer
    ways, so no more is made of it.
    """
    if unit.tool is None or len(routes) < 2:
        return routes
    ways = {hand: _ways(ws, unit, hand) for hand in {route.last for route in routes}}
    return tuple(sorted(routes, key=lambda route: ways[route.last] < FEW * max(ways.values())))


def _ways(ws: Workspace, unit: Unit, hand: str) -> int:
    """How many grasps of the tool let a hand take it from its stand, and reach every screw of the unit where
    it waits and where it goes, turned about its axis somehow."""
    state, tool = ws.start(), ws.items[unit.tool or ""]
    every = grasps(ws.hands[hand].gripper, tool.name, tool.features, tool.mass, tool.friction)
    for T_world_tool in _at_work(ws, unit):
        poses = grip_poses(T_world_tool, every)
        reached = reachable(ws.hands[hand], poses.reshape(-1, 4, 4)).reshape(poses.shape[:2]).any(axis=1)
        every = tuple(every[k] for k in np.flatnonzero(reached))
    return int(reachable(ws.hands[hand], grip_poses(ws.pose(state, tool.name), every)).sum())


def _at_work(ws: Workspace, unit: Unit) -> Iterator[Array]:
    """Poses of the tool (rolls, 4, 4) with its bit seated in each screw, where it waits and where it goes;
    left out where a hand holds what it goes into, which may be anywhere."""
    state, T_bit_tool = ws.start(), se3.inverse(ws.project.cell.tool(unit.tool or "").bit.matrix)
    home = assembled_poses(ws.project.product)
    rolls = np.array([se3.rotation(np.array([0.0, 0.0, 1.0]), r) for r in ROLLS])
    for mate in unit.mates:
        T_screw_tool = socket_frame(ws, mate.part) @ rolls @ T_bit_tool
        yield ws.pose(state, mate.part) @ T_screw_tool
        T_world_root = _root(ws, mate)
        if T_world_root is not None:
            T_root_screw = se3.inverse(home[stands_on(ws.project.product, mate)]) @ home[mate.part]
            yield T_world_root @ T_root_screw @ T_screw_tool


def _root(ws: Workspace, mate: Mate) -> Array | None:
    """T_world_root of what a mate is built on; None where a hand holds it."""
    state = ws.start()
    if mate.stands is None:
        return ws.pose(state, stands_on(ws.project.product, mate))
    return None if mate.stands.startswith("hand.") else ws.parent_pose(state, mate.stands)
