"""One arm as the proof sees it: chain, limits and collision shapes, by pinocchio from a URDF or lengths."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import coal
import numpy as np
import pinocchio as pin

from handfast.model.arm import Arm
from handfast.model.layout import Layout
from handfast.model.layout_shapes import layout_solids
from handfast.proof.layout_model import layout_model, link_name
from handfast.proof.piece import Piece, mesh_piece, piece_of, primitive
from handfast.proof.stl import Array, MeshError
from handfast.proof.urdf_text import ArmError, urdf_text
from handfast.spatial import se3

__all__ = ["ArmError", "ArmModel", "load_arm"]
Links = tuple[tuple[str, int, tuple[Piece, ...]], ...]


@dataclass(frozen=True)
class ArmModel:
    """A serial chain of n revolute joints placed in the world.

    T_world_model: pose of the URDF's first link; T_joint_tip: of the tip in the frame of the last joint; axes
    (n, 3): in the joint frames; reach (n,): from each joint's origin to the next one's, the last 0 [m];
    lower, upper [rad], velocity [rad/s]: of the URDF; links: (name, joint 0..n, pieces in the frame of that
    joint; joint 0 is the URDF's first link).
    """

    name: str
    model: Any
    data: Any
    T_world_model: Array
    T_joint_tip: Array
    axes: Array
    reach: Array
    lower: Array
    upper: Array
    velocity: Array
    links: Links

    @property
    def joints(self) -> int:
        """How many joints move."""
        return len(self.axes)

    def joint_poses(self, q: Array) -> Array:
        """T_world_joint of the base (index 0) and the n joints, (n + 1, 4, 4). q: (n,) [rad]."""
        pin.forwardKinematics(self.model, self.data, _filled(self.model, q))
        out = np.empty((self.joints + 1, 4, 4))
        for joint in range(self.joints + 1):
            out[joint] = self.data.oMi[joint].homogeneous
        return np.asarray(self.T_world_model @ out)

    def joint_poses_along(self, q: Array) -> Array:
        """The same of many configurations q (m, n) at once, (m, n + 1, 4, 4)."""
        out = np.empty((len(q), self.joints + 1, 4, 4))
        out[:, 0] = self.T_world_model
        placements, cross, square = self._turning
        turn = np.zeros((len(q), self.joints, 4, 4))
        turn[..., :3, :3] = np.sin(q)[..., None, None] * cross + (1.0 - np.cos(q))[..., None, None] * square
        turn += np.eye(4)
        steps = placements @ turn
        for i in range(self.joints):
            out[:, i + 1] = out[:, i] @ steps[:, i]
        return out

    @cached_property
    def _turning(self) -> tuple[Array, Array, Array]:
        """Poses of the joints in the links before them (n, 4, 4); of each axis, what it makes of a vector
        crossed with it once and twice (n, 3, 3)."""
        placements = [self.model.jointPlacements[i + 1].homogeneous for i in range(self.joints)]
        cross = np.cross(self.axes[:, None, :], np.eye(3)).transpose(0, 2, 1)
        return np.array(placements), cross, cross @ cross


def load_arm(arm: Arm, folder: Path) -> ArmModel:
    """Read an arm. folder: of the project. Raises ArmError, MeshError, OSError."""
    if arm.layout is not None:
        return _placed(arm, layout_model(arm.layout), _layout_links(arm.layout), folder)
    text = urdf_text(arm, folder)
    whole = pin.buildModelFromXML(text)
    shapes = pin.buildGeomFromUrdfString(whole, text, pin.GeometryType.COLLISION)
    model, shapes = _only_chain(arm, whole, shapes)
    return _placed(arm, model, _links(arm, model, shapes), folder)


def _placed(arm: Arm, model: Any, links: Links, folder: Path) -> ArmModel:
    """A model whose joints are the chain's, with what is needed of it."""
    data = model.createData()
    zero = np.zeros(model.njoints - 1)
    pin.framesForwardKinematics(model, data, _filled(model, zero))
    root, tip = _frame(arm, model, arm.root), _frame(arm, model, arm.tip)
    T_model_root = np.asarray(data.oMf[root].homogeneous)
    steps = [float(np.linalg.norm(model.jointPlacements[j].translation)) for j in range(2, model.njoints)]
    lower, upper, velocity = _limits(model)
    return ArmModel(
        name=arm.name,
        model=model,
        data=data,
        T_world_model=arm.base.matrix @ se3.inverse(T_model_root),
        T_joint_tip=np.array(model.frames[tip].placement.homogeneous),
        axes=_axes(arm, model, data),
        reach=np.array([*steps, 0.0]),
        lower=lower,
        upper=upper,
        velocity=velocity,
        links=(*links, *_hoses(arm, model, folder)),
    )


def _frame(arm: Arm, model: Any, link: str) -> int:
    if not model.existFrame(link):
        links = ", ".join(f.name for f in model.frames if f.type == pin.FrameType.BODY)
        raise ArmError(f"arm {arm.name!r}: the URDF has no link {link!r}; it has: {links}")
    return int(model.getFrameId(link))


def _only_chain(arm: Arm, model: Any, shapes: Any) -> tuple[Any, Any]:
    """The model with every joint outside root..tip locked at zero."""
    below_root = set(model.supports[model.frames[_frame(arm, model, arm.root)].parentJoint])
    chain = [
        j
        for j in model.supports[model.frames[_frame(arm, model, arm.tip)].parentJoint]
        if j not in below_root
    ]
    locked = [j for j in range(1, model.njoints) if j not in chain]
    if locked:
        model, shapes = pin.buildReducedModel(model, shapes, locked, pin.neutral(model))
    if model.njoints - 1 != len(arm.home):
        raise ArmError(
            f"arm {arm.name!r}: from {arm.root!r} to {arm.tip!r} the URDF has {model.njoints - 1} joints, "
            f"home has {len(arm.home)} angles; write as many"
        )
    return model, shapes


def _axes(arm: Arm, model: Any, data: Any) -> Array:
    axes = []
    for joint in range(1, model.njoints):
        subspace = np.asarray(data.joints[joint].S).reshape(6)
        if model.joints[joint].nv != 1 or np.linalg.norm(subspace[:3]) > 0:
            raise ArmError(f"arm {arm.name!r}: joint {model.names[joint]!r} does not turn about one axis")
        axes.append(subspace[3:])
    return np.array(axes)


def _limits(model: Any) -> tuple[Array, Array, Array]:
    """Lower and upper limit and speed limit of each joint; a continuous joint has no position limit."""
    n = model.njoints - 1
    lower, upper = np.full(n, -np.inf), np.full(n, np.inf)
    for index in range(n):
        joint = model.joints[index + 1]
        if joint.nq == 1:
            lower[index] = model.lowerPositionLimit[joint.idx_q]
            upper[index] = model.upperPositionLimit[joint.idx_q]
    return lower, upper, np.array(model.upperVelocityLimit)


def _filled(model: Any, q: Array) -> Array:
    """Pinocchio writes a continuous joint as (cos, sin)."""
    if model.nq == len(q):
        return np.asarray(q, dtype=np.float64)
    out = np.empty(model.nq)
    for index, angle in enumerate(q):
        joint = model.joints[index + 1]
        out[joint.idx_q : joint.idx_q + joint.nq] = (np.cos(angle), np.sin(angle)) if joint.nq == 2 else angle
    return out


def _hoses(arm: Arm, model: Any, folder: Path) -> Links:
    """The space of each hose, in the frame of the joint that moves it."""
    out = []
    for hose in arm.hoses:
        frame = model.frames[_frame(arm, model, hose.link)]
        T_joint_link = np.array(frame.placement.homogeneous)
        pieces = tuple(piece_of(s.shape, T_joint_link @ s.pose.matrix, folder) for s in hose.solids)
        out.append((f"hose {hose.name}", int(frame.parentJoint), pieces))
    return tuple(out)


def _layout_links(layout: Layout) -> Links:
    found: dict[int, list[Piece]] = {}
    for link, solid in layout_solids(layout):
        found.setdefault(link, []).append(piece_of(solid.shape, solid.pose.matrix, Path()))
    return tuple((link_name(link), link + 1, tuple(pieces)) for link, pieces in sorted(found.items()))


def _links(arm: Arm, model: Any, shapes: Any) -> Links:
    found: dict[tuple[str, int], list[Piece]] = {}
    for shape in shapes.geometryObjects:
        key = (str(model.frames[shape.parentFrame].name), int(shape.parentJoint))
        T_joint_shape = np.array(shape.placement.homogeneous)
        found.setdefault(key, []).append(_piece(arm, shape, T_joint_shape))
    return tuple((link, joint, tuple(pieces)) for (link, joint), pieces in found.items())


def _piece(arm: Arm, shape: Any, T_joint_shape: Array) -> Piece:
    geometry = shape.geometry
    if isinstance(geometry, coal.Cylinder):
        return primitive((geometry.radius, 2 * geometry.halfLength), T_joint_shape)
    if isinstance(geometry, coal.Box):
        return primitive(tuple(float(v) for v in 2 * geometry.halfSide), T_joint_shape)
    if isinstance(geometry, coal.Sphere):
        return primitive((geometry.radius,), T_joint_shape)
    if isinstance(geometry, coal.BVHModelBase):
        triangles = [geometry.tri_indices(i) for i in range(geometry.num_tris)]
        corners = np.array([[t[0], t[1], t[2]] for t in triangles], dtype=np.int64)
        return mesh_piece(np.array(geometry.vertices()), corners, T_joint_shape)
    raise MeshError(
        f"arm {arm.name!r}: the proof has no shape for {type(geometry).__name__} of {shape.name!r}"
    )
