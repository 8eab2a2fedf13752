"""An independent answer: many samples of a motion, each with every distance measured.

Geometry from pinocchio's own loaders (URDF and meshes) and from the project's primitives; nothing of the
proof.
"""

from __future__ import annotations

from typing import Any

import coal
import numpy as np
import pinocchio as pin
from tests.proof.chart_by_hand import FOLDER, Array

from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.model.shape import Box, Cylinder, Mesh, Solid, Sphere
from handfast.spatial import se3


def _geometry(solid: Solid) -> Any:
    shape = solid.shape
    if isinstance(shape, Box):
        return coal.Box(*shape.size)
    if isinstance(shape, Cylinder):
        return coal.Cylinder(shape.radius, shape.length)
    if isinstance(shape, Sphere):
        return coal.Sphere(shape.radius)
    assert isinstance(shape, Mesh)
    return coal.MeshLoader(coal.NODE_TYPE.BV_OBBRSS).load(str(FOLDER / shape.path), np.full(3, shape.scale))


class DenseCell:
    """One arm that moves, everything else where it stands at the start."""

    def __init__(self, project: Project, arm: str, width: float) -> None:
        self.still: list[tuple[str, Any, Array]] = []
        self.moving: list[tuple[str, int, Any, Array]] = []
        cell = project.cell
        for other in cell.arms:
            self._arm(project, other.name, width if other.name == arm else 0.07, other.name == arm)
        for holder in cell.holders:
            self._stands(holder.name, holder.solids, holder.pose.matrix)
        for obstacle in cell.obstacles:
            self._stands(obstacle.name, obstacle.solids, np.eye(4))
        for part in project.product.parts:
            self._stands(part.name, part.solids, _start(project, part.name))
        for tool in cell.tools:
            self._stands(tool.name, tool.solids, _start(project, tool.name))

    def _stands(self, name: str, solids: tuple[Solid, ...], T_world_body: Array) -> None:
        for solid in solids:
            self.still.append((name, _geometry(solid), T_world_body @ solid.pose.matrix))

    def _arm(self, project: Project, name: str, width: float, moves: bool) -> None:
        arm, gripper = project.cell.arm(name), project.cell.gripper_of(name)
        path = str(FOLDER / arm.urdf)
        model = pin.buildModelFromUrdf(path)
        shapes = pin.buildGeomFromUrdf(model, path, pin.GeometryType.COLLISION)
        data = model.createData()
        pin.framesForwardKinematics(model, data, np.array(arm.home))
        T_tip = model.frames[model.getFrameId(arm.tip)].placement.homogeneous
        own = [
            (f"{name}.{model.frames[g.parentFrame].name}", g.parentJoint, g.geometry, g.placement.homogeneous)
            for g in shapes.geometryObjects
        ]
        grip = T_tip @ gripper.mount.matrix
        for solid in gripper.palm:
            own.append((f"{name}.palm", model.njoints - 1, _geometry(solid), grip @ solid.pose.matrix))
        x, y, z = gripper.finger_size
        for side, word in ((1, "upper"), (-1, "lower")):
            offset = se3.translation(0.0, side * (width + y) / 2, -z / 2)
            own.append((f"{name}.{word}_finger", model.njoints - 1, coal.Box(x, y, z), grip @ offset))
        if moves:
            self.model, self.data, self.base = model, data, arm.base.matrix
        for body, joint, geometry, T in own:
            if moves and joint > 0:
                self.moving.append((body, joint, geometry, np.array(T)))
            elif not (moves and joint == 0):
                self.still.append((body, geometry, arm.base.matrix @ data.oMi[joint].homogeneous @ T))
            else:
                self.moving.append((body, 0, geometry, np.array(T)))

    def smallest(self, q: Array) -> tuple[float, str, str]:
        """The smallest distance of any pair that may not touch, at one configuration."""
        pin.forwardKinematics(self.model, self.data, q)
        placed = [(b, j, g, self.base @ self.data.oMi[j].homogeneous @ T) for b, j, g, T in self.moving]
        best = (np.inf, "", "")
        for i, (a, joint, geometry, T_a) in enumerate(placed):
            others = [(b, g, T_b) for b, j, g, T_b in placed[i + 1 :] if _checked(a, joint, b, j)]
            for b, other, T_b in [*others, *(self.still if joint > 0 else [])]:
                gap = _distance(geometry, T_a, other, T_b)
                if gap < best[0]:
                    best = (gap, a, b)
        return best


def _checked(a: str, joint_a: int, b: str, joint_b: int) -> bool:
    links = not any(word in name for name in (a, b) for word in ("palm", "finger"))
    apart = abs(joint_a - joint_b)
    return apart > 1 or (apart == 1 and not links)


def _distance(a: Any, T_a: Array, b: Any, T_b: Array) -> float:
    return float(
        coal.distance(
            a, coal.Transform3s(T_a[:3, :3], T_a[:3, 3]), b, coal.Transform3s(T_b[:3, :3], T_b[:3, 3]),
            coal.DistanceRequest(), coal.DistanceResult(),
        )
    )  # fmt: skip


def _start(project: Project, item: str) -> Array:
    holder, place = project.cell.place_of(item)
    return np.asarray(holder.pose.matrix @ place.pose.matrix)


def sampled(motion: Motion, times: Array) -> Array:
    """Positions (m, n) of a motion, one knot interval after the other."""
    out = []
    for time in times:
        i = min(int(np.searchsorted(motion.t, time, side="right")) - 1, len(motion.t) - 2)
        s, h = time - motion.t[i], motion.t[i + 1] - motion.t[i]
        v0, v1 = np.array(motion.v[i]), np.array(motion.v[i + 1])
        out.append(np.array(motion.q[i]) + v0 * s + (v1 - v0) * s * s / (2 * h))
    return np.array(out)
