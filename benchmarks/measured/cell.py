"""first-fit's right arm among everything else, for the kernel and for pinocchio with coal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pinocchio as pin
from measured.results import PROJECTS

from handfast import _kernel
from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.geometry.body import Body, body
from handfast.kinematics.inverse import inverse
from handfast.planning.hand import gripper_bodies
from handfast.planning.state import State
from handfast.planning.workspace import Workspace, make_workspace
from handfast.spatial import se3

HAND = "right"
Array = np.ndarray
MANAGERS = ("Naive", "DynamicAABBTree", "SaP", "SSaP", "IntervalTree")


@dataclass(frozen=True)
class KernelCell:
    """Sphere cover of the arm, boxes and spheres of the rest."""

    ws: Workspace
    state: State
    cover: Any
    world: Any

    @property
    def arm(self) -> Any:
        """The kinematic chain."""
        return self.ws.hands[HAND].arm


def kernel_cell(busy: bool = False) -> KernelCell:
    """The cell at its start, everything in its place, arms at home; busy: the left hand over the nest."""
    checked = check_folder(PROJECTS / "first-fit")
    if not isinstance(checked, CheckedProject):
        raise SystemExit(f"first-fit: {checked[0]}")
    ws = make_workspace(checked.project)
    state = ws.start()
    if busy:
        left = ws.hands["left"]
        over = se3.translation(-0.03, 0.45, 0.06) @ se3.rotation(np.array([1.0, 0, 0]), np.pi)
        q, valid = inverse(left.chain, left.tip_for(over)[None], left.chain.home)
        state = state.moved("left", q[0][valid[0]][0])
    return KernelCell(ws, state, ws.hand_cover(state, HAND), ws.world(state, HAND))


class ExactCell:
    """The same with exact shapes: a pinocchio model with every pair that the kernel tests.

    margin: kept from everything [m]; manager: one of MANAGERS, or None for pair after pair.
    """

    def __init__(self, cell: KernelCell, margin: float, manager: str | None) -> None:
        ws, hand = cell.ws, cell.ws.hands[HAND]
        arm = ws.project.cell.arm(HAND)
        self.model = pin.buildModelFromUrdf(f"{ws.project.folder}/{arm.urdf}")
        self.model.jointPlacements[1] = pin.SE3(arm.base.matrix) * self.model.jointPlacements[1]
        self.data = self.model.createData()
        self.geometry = pin.GeometryModel()
        state, n = cell.state, hand.chain.n
        links: dict[int, list[int]] = {}
        for i in range(-1, n + 1):
            own = body(f"link {i}", tuple(s for k, s in hand.chain.solids if k == i), hand.folder)
            at = arm.base.matrix if i < 0 else hand.chain.tip if i == n else np.eye(4)
            links[i] = self._add(own, max(0, min(i, n - 1) + 1), at)
        held = gripper_bodies(hand.gripper, state.widths[HAND], hand.folder)
        moving = [g for i in range(n + 1) for g in links[i]]
        gripper = self._add(held, n, hand.chain.tip @ hand.mount)
        links[n] += gripper
        blocks = ws.standing(state, HAND).blocks
        still = [g for block in blocks for g in self._add(block.body, 0, block.T_world_body)]
        pairs = [(a, b) for a in [*moving, *gripper] for b in still]
        pairs += [(a, b) for i, j in hand.pairs.tolist() for a in links[i] for b in links[j]]
        for a, b in pairs:
            self.geometry.addCollisionPair(pin.CollisionPair(a, b))
        self.geometry_data = pin.GeometryData(self.geometry)
        for request in self.geometry_data.collisionRequests:
            request.security_margin = margin
        self.pairs, self.shapes = len(pairs), self.geometry.ngeoms
        kind = f"BroadPhaseManager_{manager}CollisionManager"
        made = (self.model, self.geometry, self.geometry_data)
        self.manager = getattr(pin, kind)(*made) if manager else None

    def _add(self, own: Body, joint: int, T: Array) -> list[int]:
        return [
            self.geometry.addGeometryObject(
                pin.GeometryObject(
                    f"{own.name} {joint} {self.geometry.ngeoms}", joint, pin.SE3(T @ p.pose), p.geometry
                )
            )
            for p in own.pieces
        ]

    def hit(self, q: Array) -> bool:
        """Whether any pair comes within the margin at q (n,)."""
        if self.manager is not None:
            return bool(pin.computeCollisions(self.model, self.data, self.manager, q, True))
        return bool(pin.computeCollisions(self.model, self.data, self.geometry, self.geometry_data, q, True))

    def tip(self, q: Array) -> Array:
        """T_world_joint of the last joint, to see that both are the same arm."""
        pin.forwardKinematics(self.model, self.data, q)
        return np.asarray(self.data.oMi[self.model.njoints - 1].homogeneous)


def same_arm(cell: KernelCell, exact: ExactCell, q: Array) -> None:
    """Raises ValueError unless both put the arm in the same place at every q (m, n)."""
    ours = _kernel.fk_links(cell.arm, q)[:, -2]
    theirs = np.array([exact.tip(row) for row in q])
    if np.abs(ours - theirs).max() > 1e-9:
        raise ValueError("the kernel and pinocchio disagree about where the arm is")
