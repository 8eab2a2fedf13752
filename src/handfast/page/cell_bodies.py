"""The bodies of a cell as named meshes, each in its own frame: what the page and the animated export draw."""

from __future__ import annotations

import numpy as np

from handfast.kinematics.chain import Chain, load_chain
from handfast.model.gripper import Gripper
from handfast.model.project import Project
from handfast.model.shape import Box, Solid
from handfast.page.drawn_shape import corners_of
from handfast.page.glb_writer import Body, Colour
from handfast.page.sheet import ArmDrawn, JointDrawn, Matrix
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

HANDS: tuple[Colour, Colour] = ((0.09, 0.32, 0.46), (0.60, 0.25, 0.08))
ROLE: dict[str, Colour] = {
    "arm": (0.34, 0.39, 0.45),
    "part": (0.60, 0.46, 0.13),
    "tool": (0.16, 0.19, 0.22),
    "holder": (0.60, 0.62, 0.60),
    "obstacle": (0.21, 0.26, 0.26),
}


def cell_bodies(project: Project) -> list[Body]:
    """Every body, named as `ArmDrawn` says, and "part:", "tool:", "holder:", "obstacle:" with its name.

    Holders and obstacles stand in the world frame. Raises ArmError or MeshError if a file cannot be read."""
    folder, cell = project.folder, project.cell
    bodies = [
        Body(f"obstacle:{o.name}", corners_of(o.solids, folder), ROLE["obstacle"]) for o in cell.obstacles
    ]
    for holder in cell.holders:
        T = holder.pose.matrix
        corners = corners_of(holder.solids, folder) @ T[:3, :3].T + T[:3, 3]
        bodies.append(Body(f"holder:{holder.name}", corners, ROLE["holder"]))
    for i, arm in enumerate(cell.arms):
        colour = HANDS[i] if i < len(HANDS) else ROLE["arm"]
        bodies += _arm(load_chain(arm, folder), cell.gripper_of(arm.name), folder, colour)
    bodies += [
        Body(f"part:{p.name}", corners_of(p.solids, folder), ROLE["part"]) for p in project.product.parts
    ]
    bodies += [Body(f"tool:{t.name}", corners_of(t.solids, folder), ROLE["tool"]) for t in cell.tools]
    return bodies


def _arm(chain: Chain, gripper: Gripper, folder: str, colour: Colour) -> list[Body]:
    links: dict[int, list[Array]] = {}
    for link, solid in chain.solids:
        links.setdefault(link, []).append(corners_of((solid,), folder))
    name = f"arm:{chain.name}"
    x, thick, back = gripper.finger_size
    finger = Solid(Box((x, thick, back)), Pose((0.0, 0.0, -back / 2)))
    return [
        *(Body(f"{name}:link:{i}", np.concatenate(c), colour) for i, c in sorted(links.items())),
        Body(f"{name}:palm", corners_of(gripper.palm, folder), ROLE["arm"]),
        Body(f"{name}:finger", corners_of((finger,), folder), ROLE["arm"]),
    ]


def arms_drawn(project: Project) -> tuple[ArmDrawn, ...]:
    """The arms as the page moves them. Raises ArmError."""
    return tuple(
        _drawn(load_chain(arm, project.folder), project.cell.gripper_of(arm.name))
        for arm in project.cell.arms
    )


def _drawn(chain: Chain, gripper: Gripper) -> ArmDrawn:
    joints = tuple(
        JointDrawn(rows(placement), (float(axis[0]), float(axis[1]), float(axis[2])))
        for placement, axis in zip(chain.placements, chain.axes, strict=True)
    )
    return ArmDrawn(
        name=chain.name,
        base=rows(chain.base),
        joints=joints,
        tip=rows(chain.tip),
        mount=rows(gripper.mount.matrix),
        home=tuple(float(q) for q in chain.home),
        finger=gripper.finger_size[1],
        opening=gripper.opening,
    )


def rows(matrix: Array) -> Matrix:
    """A matrix as records hold it."""
    return tuple(tuple(float(v) for v in row) for row in matrix)
