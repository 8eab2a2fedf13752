"""The chain of an arm that is known by the lengths of its data sheet."""

from __future__ import annotations

import numpy as np

from handfast.kinematics.serial_chain import Chain, must_have_one_each
from handfast.kinematics.urdf_values import ArmError
from handfast.model.arm import Arm
from handfast.model.layout import LINKS, Layout
from handfast.model.layout_shapes import layout_solids
from handfast.model.shape import Solid
from handfast.spatial import se3
from handfast.spatial.pose import Vec3
from handfast.spatial.se3 import Array

_Y, _Z = (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)


def layout_chain(arm: Arm, layout: Layout) -> Chain:
    """The chain, counted as the maker counts. Raises ArmError for the wrong number of values."""
    must_have_one_each(arm, 6)
    steps, axes, tip = _upright(layout)
    turned = [se3.rotation(np.array(axis), angle) for axis, angle in zip(axes, layout.zero, strict=True)]
    lower, upper = np.array(layout.limits).T
    return Chain(
        name=arm.name,
        joints=tuple(f"joint {i}" for i in range(1, 7)),
        placements=np.array([se3.translation(*s) @ t for s, t in zip(steps, turned, strict=True)]),
        axes=np.array([layout.sign(i) * np.array(a) for i, a in enumerate(axes, 1)]),
        tip=tip,
        base=arm.base.matrix,
        lower=lower,
        upper=upper,
        velocity=np.array(layout.speeds) * arm.speed,
        acceleration=np.array(arm.max_acceleration),
        home=np.array(arm.home),
        solids=(*layout_solids(layout), *_hoses(arm)),
    )


def _hoses(arm: Arm) -> list[tuple[int, Solid]]:
    for hose in arm.hoses:
        if hose.link not in LINKS:
            raise ArmError(
                f"arm {arm.name!r}: hose {hose.name!r}: expected a link, one of {', '.join(LINKS)}; "
                f"found {hose.link!r}"
            )
    return [(LINKS.index(hose.link) - 1, s) for hose in arm.hoses for s in hose.solids]


def _upright(arm: Layout) -> tuple[tuple[Vec3, ...], tuple[Vec3, ...], Array]:
    """Steps from joint to joint [m], their axes, and last joint -> flange, of the arm standing upright."""
    if arm.kind == "spherical-wrist":
        steps = (
            (0.0, 0.0, 0.0),
            (arm.shoulder_offset, 0.0, arm.shoulder_height),
            (0.0, 0.0, arm.upper_arm),
            (-arm.elbow_offset, 0.0, 0.0),
            (0.0, 0.0, arm.forearm),
            (0.0, 0.0, 0.0),
        )
        return steps, (_Z, _Y, _Y, _Z, _Y, _Z), se3.translation(0.0, 0.0, arm.flange)
    steps = (
        (0.0, 0.0, 0.0),
        (arm.shoulder_offset, 0.0, arm.shoulder_height),
        (0.0, 0.0, arm.upper_arm),
        (0.0, 0.0, arm.forearm),
        (0.0, arm.wrist_side, 0.0),
        (0.0, 0.0, arm.wrist),
    )
    tip = se3.translation(0.0, arm.flange, 0.0) @ se3.fixed_xyz(-np.pi / 2, 0.0, 0.0)
    return steps, (_Z, _Y, _Y, _Y, _Z, _Y), tip
