"""Everything that can touch: the links, hands, items, holders and obstacles of a cell, with their pieces."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Literal

import numpy as np

from handfast.model.gripper import Gripper
from handfast.model.project import Project
from handfast.model.shape import Solid
from handfast.proof.arm_model import ArmModel, load_arm
from handfast.proof.piece import Piece, piece_of, primitive
from handfast.proof.stl import Array

BodyKind = Literal["link", "palm", "finger", "item", "fixture"]


@dataclass(frozen=True)
class Body:
    """arm: whose it is, for links and hands; joint: which it moves with (0 does not move), for links and
    hands; side: +1 or -1 for the finger that stands at y = +width/2 or -width/2; T_world_body: of
    fixtures."""

    name: str
    kind: BodyKind
    pieces: tuple[Piece, ...]
    arm: str = ""
    joint: int = 0
    side: int = 0
    T_world_body: Array | None = None


@dataclass(frozen=True)
class CellBodies:
    """arms, by name; T_joint_grip: of each arm's grip frame in its last joint; bodies; index: body name ->
    place."""

    arms: dict[str, ArmModel]
    T_joint_grip: dict[str, Array]
    bodies: tuple[Body, ...]
    index: dict[str, int]

    @cached_property
    def standing(self) -> tuple[list[int], Array]:
        """Places of what never moves, and T_world_body of it (k, 4, 4)."""
        known = {i: body.T_world_body for i, body in enumerate(self.bodies) if body.T_world_body is not None}
        return list(known), np.array(list(known.values())).reshape(-1, 4, 4)

    @cached_property
    def moving(self) -> dict[str, tuple[list[int], list[int], list[int]]]:
        """Of each arm the places of its links, of palm and fingers, and the joints that the links move
        with."""
        out = {}
        for arm in self.arms:
            own = [i for i, body in enumerate(self.bodies) if body.arm == arm]
            links = [i for i in own if self.bodies[i].kind == "link"]
            hand = [i for i in own if self.bodies[i].kind != "link"]
            out[arm] = links, hand, [self.bodies[i].joint for i in links]
        return out

    @cached_property
    def fingers(self) -> tuple[tuple[int, int, str], ...]:
        """Place, side and arm of each finger."""
        known = enumerate(self.bodies)
        return tuple((i, body.side, body.arm) for i, body in known if body.kind == "finger")

    @cached_property
    def items(self) -> tuple[tuple[int, str], ...]:
        """Place and name of each item."""
        return tuple((i, body.name) for i, body in enumerate(self.bodies) if body.kind == "item")

    def named(self, name: str) -> Body:
        """The body of that name."""
        return self.bodies[self.index[name]]


def load_bodies(project: Project) -> CellBodies:
    """Read every shape of the project. Raises ArmError, MeshError, OSError, each with the file."""
    folder = Path(project.folder)
    arms = {arm.name: load_arm(arm, folder) for arm in project.cell.arms}
    grippers = {gripper.arm: gripper for gripper in project.cell.grippers}
    bodies = [body for arm in arms.values() for body in _arm_bodies(arm, grippers.get(arm.name), folder)]
    for part in project.product.parts:
        bodies.append(Body(part.name, "item", _pieces(part.solids, folder)))
    for tool in project.cell.tools:
        bodies.append(Body(tool.name, "item", _pieces(tool.solids, folder)))
    for holder in project.cell.holders:
        pose = holder.pose.matrix
        bodies.append(Body(holder.name, "fixture", _pieces(holder.solids, folder), T_world_body=pose))
    for obstacle in project.cell.obstacles:
        bodies.append(
            Body(obstacle.name, "fixture", _pieces(obstacle.solids, folder), T_world_body=np.eye(4))
        )
    grips = {
        name: arm.T_joint_tip @ grippers[name].mount.matrix if name in grippers else arm.T_joint_tip
        for name, arm in arms.items()
    }
    return CellBodies(arms, grips, tuple(bodies), {body.name: i for i, body in enumerate(bodies)})


def _pieces(solids: tuple[Solid, ...], folder: Path) -> tuple[Piece, ...]:
    return tuple(piece_of(solid.shape, solid.pose.matrix, folder) for solid in solids)


def _arm_bodies(arm: ArmModel, gripper: Gripper | None, folder: Path) -> list[Body]:
    """Links in their joint's frame; palm and fingers in the grip frame."""
    out = [Body(f"{arm.name}.{link}", "link", pieces, arm.name, joint) for link, joint, pieces in arm.links]
    if gripper is not None:
        out.append(Body(f"{arm.name}.palm", "palm", _pieces(gripper.palm, folder), arm.name, arm.joints))
        for side, word in ((1, "upper"), (-1, "lower")):
            finger = (finger_piece(gripper, side),)
            out.append(Body(f"{arm.name}.{word}_finger", "finger", finger, arm.name, arm.joints, side))
    return out


def finger_piece(gripper: Gripper, side: int) -> Piece:
    """A finger whose pad face lies in y = 0 and whose tip in z = 0; the width moves it out along y."""
    _, thick, long = gripper.finger_size
    placement = np.eye(4)
    placement[:3, 3] = (0.0, side * thick / 2, -long / 2)
    return primitive(gripper.finger_size, placement)
