"""Jaws close on what they hold and on nothing beside it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from handfast.checking.checked_project import CheckedProject
from handfast.geometry.body import distance
from handfast.mates.grasps import grasps
from handfast.model.feature import Feature
from handfast.model.part import Part
from handfast.model.shape import Cylinder, Solid
from handfast.planning.hand import gripper_bodies
from handfast.planning.jaws import jaws_cut
from handfast.planning.workspace import Workspace, make_workspace
from handfast.spatial import se3
from handfast.spatial.pose import Pose

OVER = Pose.from_matrix(se3.translation(0, 0, -0.020) @ se3.rotation(np.array([1.0, 0, 0]), np.pi))


def with_wheel(checked: CheckedProject, radius: float, start: float) -> Workspace:
    """The example, its pin with a wheel on it: 6 mm thick, from `start` mm above the tip."""
    stem = Solid(Cylinder(0.004, 0.040))
    wheel = Solid(Cylinder(radius, 0.006), Pose((0.0, 0.0, start - 0.020 + 0.003)))
    tip = Feature("tip", "shaft", OVER, diameter=0.008, length=start)
    product = checked.project.product
    pin = replace(product.part("pin"), solids=(stem, wheel), features=(tip,))
    parts: tuple[Part, ...] = tuple(pin if p.name == "pin" else p for p in product.parts)
    return make_workspace(replace(checked.project, product=replace(product, parts=parts)))


@pytest.mark.parametrize(
    ("start", "across"), [(0.012, False), (0.0175, False), (0.0185, True), (0.025, True)]
)
def test_a_wheel_beside_the_jaws_keeps_them_off_a_short_stem(
    first_fit: CheckedProject, start: float, across: bool
) -> None:
    """Fingers 18 mm wide laid across a stem of 12 mm reach 6 mm into the wheel; along it they fit any
    stem."""
    ws = with_wheel(first_fit, 0.010, start)
    item, gripper = ws.items["pin"], ws.hands["left"].gripper
    every = grasps(gripper, "pin", item.features, item.mass, item.friction)
    sideways = [g for g in every if abs(g.T_grip_part.matrix[2, 2]) < 0.1]
    endways = [g for g in every if abs(g.T_grip_part.matrix[2, 2]) > 0.9]
    assert sideways
    assert endways
    assert {jaws_cut(ws, "left", g) is None for g in sideways} == {across}
    assert {jaws_cut(ws, "left", g) is None for g in endways} == {True}


@pytest.mark.parametrize("hand", ["left", "right"])
def test_on_the_example_no_jaws_cut_in(workspace: Workspace, hand: str) -> None:
    """All its grasps are of plain features; a little inside the item the jaws would be found to cut."""
    gripper = workspace.hands[hand].gripper
    for name in ("pin", "cover", "driver"):
        item = workspace.items[name]
        every = grasps(gripper, name, item.features, item.mass, item.friction)
        clear = [g for g in every if jaws_cut(workspace, hand, g) is None]
        assert clear
        for grasp in clear:
            closed = gripper_bodies(gripper, grasp.width + 2e-4, "/")
            assert distance(closed, np.eye(4), item.exact, grasp.T_grip_part.matrix) > 0
            assert jaws_cut(workspace, hand, replace(grasp, width=grasp.width - 5e-4)) is not None
