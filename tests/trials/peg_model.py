"""A second model of the physics engine, for one round shaft and one round hole: what the tests hold parts
mating against, apart from the one that builds are tried in."""

from __future__ import annotations

import math
from typing import Any, Literal

import numpy as np

from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.contact_shapes import RoundHole, RoundShaft, hole_wedges, shaft_end
from handfast.trials.insertion_model import ContactSettings, Support, set_engine


def contact_model(
    hole: RoundHole, shaft: RoundShaft, moving: Literal["shaft", "hole"], T_fixed_moving: Array, support:
    Support, friction: float, T_fixed_seat: Array | None, settings: ContactSettings,
) -> Any:  # fmt: skip
    """The compiled engine model. World is the fixed feature's frame; the moving body starts at T_fixed_moving
    (4, 4), its joints are three slides along the moving feature's axes and three turns about its compliance
    centre.

    T_fixed_seat: a plane that ends the travel, z away from it; None: no such plane.
    """
    import mujoco

    spec = mujoco.MjSpec()
    set_engine(mujoco, spec, settings)
    body = _moving_body(mujoco, spec, T_fixed_moving, support, settings)
    frame = se3.inverse(
        support.T_feature_centre
    )  # of the moving feature, in the body: the body's axes are the feature's
    frame = se3.pose(np.eye(3), frame[:3, :3].T @ frame[:3, 3])
    ring_body, ring_frame = (body, frame) if moving == "hole" else (spec.worldbody, np.eye(4))
    shaft_body, shaft_frame = (body, frame) if moving == "shaft" else (spec.worldbody, np.eye(4))
    look = {
        "friction": [friction, 0.0, 0.0],
        "condim": 3,
        "solref": [settings.stiffness_time * settings.fine_step, 1.0],
        "solimp": list(settings.impedance),
    }
    _add_ring(
        mujoco, spec, ring_body, ring_frame, hole, settings.wedges, look, stands=T_fixed_seat is not None
    )
    _add_shaft(mujoco, spec, shaft_body, shaft_frame, shaft, look)
    if T_fixed_seat is not None:
        spec.worldbody.add_geom(
            name="seat", type=mujoco.mjtGeom.mjGEOM_PLANE, size=[0, 0, 1.0], pos=T_fixed_seat[:3, 3],
            quat=se3.quaternion(T_fixed_seat[:3, :3]), contype=4, conaffinity=4, **look,
        )  # fmt: skip
    return spec.compile()


def _moving_body(
    mujoco: Any, spec: Any, T_fixed_moving: Array, support: Support, settings: ContactSettings
) -> Any:
    T_fixed_centre = T_fixed_moving @ support.T_feature_centre
    inertia = settings.mass * support.angular / support.lateral  # turns as fast as it slides
    body = spec.worldbody.add_body(
        name="moving", pos=T_fixed_centre[:3, 3], quat=se3.quaternion(T_fixed_moving[:3, :3]),
        mass=settings.mass, inertia=[inertia] * 3, explicitinertial=True,
    )  # fmt: skip
    stiffness = [support.lateral, support.lateral, support.axial, *[support.angular] * 3]
    for i in range(6):
        moved = settings.mass if i < 3 else inertia
        kind = mujoco.mjtJoint.mjJNT_SLIDE if i < 3 else mujoco.mjtJoint.mjJNT_HINGE
        body.add_joint(
            name=f"freedom{i}", type=kind, axis=np.eye(3)[i % 3], stiffness=stiffness[i],
            damping=2 * settings.damping * math.sqrt(stiffness[i] * moved),
        )  # fmt: skip
    return body


def _add_ring(
    mujoco: Any,
    spec: Any,
    body: Any,
    frame: Array,
    hole: RoundHole,
    count: int,
    look: dict[str, Any],
    *,
    stands: bool,
) -> None:
    pieces = hole_wedges(hole, count)
    for k, corners in enumerate(pieces):
        spec.add_mesh(
            name=f"wedge{k}", uservert=corners.ravel(), inertia=mujoco.mjtMeshInertia.mjMESH_INERTIA_CONVEX
        )
        top = k == len(pieces) - 1
        for i in range(count):
            T = frame @ se3.rotation(np.array([0.0, 0, 1]), 2 * math.pi * i / count)
            on_seat = stands and top and i % 4 == 0
            body.add_geom(
                name=f"ring{k}.{i}", type=mujoco.mjtGeom.mjGEOM_MESH, meshname=f"wedge{k}", pos=T[:3, 3],
                quat=se3.quaternion(T[:3, :3]), contype=5 if on_seat else 1, conaffinity=4 if on_seat else 0,
                **look,
            )  # fmt: skip


def _add_shaft(
    mujoco: Any, spec: Any, body: Any, frame: Array, shaft: RoundShaft, look: dict[str, Any]
) -> None:
    straight = shaft.length - shaft.chamfer_depth
    T = frame @ se3.translation(0, 0, -shaft.chamfer_depth - straight / 2)
    body.add_geom(
        name="shaft", type=mujoco.mjtGeom.mjGEOM_CYLINDER, size=[shaft.radius, straight / 2, 0.0], pos=T[:3,
        3], quat=se3.quaternion(T[:3, :3]), contype=2, conaffinity=1, **look,
    )  # fmt: skip
    corners = shaft_end(shaft)
    if corners is not None:
        spec.add_mesh(
            name="end", uservert=corners.ravel(), inertia=mujoco.mjtMeshInertia.mjMESH_INERTIA_CONVEX
        )
        body.add_geom(
            name="end", type=mujoco.mjtGeom.mjGEOM_MESH, meshname="end", pos=frame[:3, 3],
            quat=se3.quaternion(frame[:3, :3]), contype=2, conaffinity=1, **look,
        )  # fmt: skip
