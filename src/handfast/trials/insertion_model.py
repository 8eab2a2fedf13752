"""The contact model of one insertion: a round shaft and a round hole, one of them held through a compliant
support.

Only here and in `peg_in_hole` is the physics engine seen; it is loaded at the first insertion.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.contact_shapes import RoundHole, RoundShaft, hole_wedges, shaft_end


@dataclass(frozen=True, slots=True)
class ContactSettings:
    """Of the engine. The defaults were measured; softer contact reports success through walls.

    step, fine_step [s]: longest and shortest; sideways_per_step: how far the part may move sideways in one,
    share of the radial clearance; crossing_speed [m/s]: at most, over the chamfers, so that forces there are
    those of statics (impacts are not modelled); wedges around the hole; effective mass at the compliance
    centre [kg]: arm and hand move with the part; damping: share of the critical one; stiffness_time: solref,
    in shortest steps; impedance: solimp.
    """

    step: float = 2e-4
    fine_step: float = 1.25e-5
    sideways_per_step: float = 0.08
    crossing_speed: float = 2.5e-3
    wedges: int = 32
    mass: float = 1.0
    damping: float = 0.7
    stiffness_time: float = 2.0
    impedance: tuple[float, float, float, float, float] = (0.99, 0.9999, 1e-5, 0.5, 2.0)


MEASURED = ContactSettings()


@dataclass(frozen=True, slots=True)
class Support:
    """Stiffness of what holds the moving feature: across and along its axis [N/m], angular [N m/rad];
    T_feature_centre (4, 4): the compliance centre in the moving feature's frame."""

    lateral: float
    axial: float
    angular: float
    T_feature_centre: Array


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


def set_engine(mujoco: Any, spec: Any, settings: ContactSettings) -> None:
    """Step, contact and solver options of a model that is being made."""
    option = spec.option
    option.timestep = settings.step
    option.gravity = [0.0, 0.0, 0.0]  # the arm carries the part
    option.integrator = mujoco.mjtIntegrator.mjINT_IMPLICITFAST
    option.cone = mujoco.mjtCone.mjCONE_ELLIPTIC
    option.impratio = 10.0
    option.tolerance = 1e-12
    # The default finds contacts where there are none between nearly parallel faces: false jams.
    option.ccd_tolerance = 1e-9
    option.ccd_iterations = 100
    spec.compiler.inertiafromgeom = mujoco.mjtInertiaFromGeom.mjINERTIAFROMGEOM_FALSE


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
