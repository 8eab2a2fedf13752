"""Which hand is tried first for a screw: counted here pose by pose."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.kinematics.inverse import inverse
from handfast.mates.grasps import grasps
from handfast.mates.home import assembled_poses
from handfast.model.project import Project
from handfast.planning.route import Route
from handfast.planning.tool_hands import by_reach
from handfast.planning.unit import Unit, routes_of, units_of
from handfast.planning.workspace import Workspace, make_workspace
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

PROJECTS = Path(__file__).parents[2] / "projects"
PUMP, RELAY = PROJECTS / "dosing-pump", PROJECTS / "relay-frame"


@pytest.fixture(scope="module")
def pump() -> Project:
    checked = check_folder(PUMP)
    assert isinstance(checked, CheckedProject), checked
    return checked.project


def turned(angle: float) -> Array:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s, 0, 0], [s, c, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1.0]])


def counted(ws: Workspace, unit: Unit, hand: str) -> int:
    """Grasps of the driver with which the hand reaches the stand, and every screw where it waits and goes."""
    start, h, product = ws.start(), ws.hands[hand], ws.project.product
    tool, home = ws.items[unit.tool or ""], assembled_poses(product)
    bit = ws.project.cell.tool(tool.name).bit.matrix
    T_world_base = ws.pose(start, product.base)

    def reached(T_world_tool: Array, T_grip_tool: Array) -> bool:
        T_grip = T_world_tool @ np.linalg.inv(T_grip_tool)
        return bool(inverse(h.chain, h.tip_for(T_grip)[None])[1].any())

    count = 0
    for g in grasps(h.gripper, tool.name, tool.features, tool.mass, tool.friction):
        held = g.T_grip_part.matrix
        works = reached(ws.pose(start, tool.name), held)
        for mate in unit.mates:
            (drive,) = [f for f in ws.items[mate.part].features if f.kind == "hole"]
            bottom = drive.frame.matrix.copy()
            bottom[:3, 3] += (drive.length or 0.0) * bottom[:3, 2]
            for T_screw in (ws.pose(start, mate.part), T_world_base @ home[mate.part]):
                ways = (T_screw @ bottom @ turned(k * np.pi / 6) @ np.linalg.inv(bit) for k in range(12))
                works = works and any(reached(T, held) for T in ways)
        count += works
    return count


def test_a_hand_with_few_ways_to_hold_the_driver_is_tried_last(pump: Project) -> None:
    ws = make_workspace(pump)
    (unit,) = [u for u in units_of(pump.product) if u.tool is not None]
    ways = {hand: counted(ws, unit, hand) for hand in ws.hands}
    assert ways["right"] > 4 * ways["left"] > 0  # the presenter and the stand are on the right
    routes = by_reach(ws, unit, routes_of(unit, tuple(ws.hands), True))
    assert routes == (Route("tool", ("right",)), Route("tool", ("left",)))


def test_where_the_stand_is_beside_the_left_arm_the_left_hand_is_tried_first(pump: Project) -> None:
    """Mirrored, the right arm does not reach the driver at all."""
    stand = pump.cell.place_of("driver")[0]
    x, y, z = stand.pose.position
    moved = replace(stand, pose=Pose((-x - 0.3, y, z), stand.pose.quaternion))
    holders = tuple(moved if h.name == stand.name else h for h in pump.cell.holders)
    ws = make_workspace(replace(pump, cell=replace(pump.cell, holders=holders)))
    (unit,) = [u for u in units_of(pump.product) if u.tool is not None]
    assert counted(ws, unit, "left") > 4 * counted(ws, unit, "right")
    assert by_reach(ws, unit, routes_of(unit, tuple(ws.hands), True))[0] == Route("tool", ("left",))


def test_a_hand_with_fewer_ways_but_not_few_keeps_its_place() -> None:
    """It may have the shorter ways: relay-frame takes 75.4 s a cycle with it, 80.2 s without."""
    checked = check_folder(RELAY)
    assert isinstance(checked, CheckedProject), checked
    ws = make_workspace(checked.project)
    (unit,) = [u for u in units_of(checked.project.product) if u.name == "screw-b1"]
    assert counted(ws, unit, "right") > counted(ws, unit, "left") > counted(ws, unit, "right") / 4
    routes = routes_of(unit, tuple(ws.hands), True)
    assert by_reach(ws, unit, routes) == routes


def test_what_no_tool_does_keeps_its_routes(pump: Project) -> None:
    ws = make_workspace(pump)
    for unit in units_of(pump.product):
        routes = routes_of(unit, tuple(ws.hands), True)
        if unit.tool is None:
            assert by_reach(ws, unit, routes) == routes
