"""An arm known by its lengths as a pinocchio model: the proof's own reading of model/layout.py."""

from __future__ import annotations

from typing import Any

import numpy as np
import pinocchio as pin

from handfast.model.layout import LINKS, Layout

BASE, FLANGE = "base", "flange"


def layout_model(layout: Layout) -> Any:
    """Six joints with the maker's angles, limits and speeds, and the frames `base` and `flange`."""
    model = pin.Model()
    before, step = 0, pin.SE3.Identity()
    for number, (letter, joint_at) in enumerate(_upright(layout), 1):
        about = "XYZ".index(letter)
        step = pin.SE3(np.eye(3), np.array(joint_at))
        turned = pin.SE3(_about(about, layout.zero[number - 1]), np.zeros(3))
        axis = layout.sign(number) * np.eye(3)[about]
        low, high = layout.limits[number - 1]
        before = model.addJoint(
            before,
            pin.JointModelRevoluteUnaligned(axis),
            step * turned,
            f"joint {number}",
            np.array([np.inf]),
            np.array([layout.speeds[number - 1]]),
            np.array([low]),
            np.array([high]),
        )
    for joint, link in enumerate(LINKS[1:], 1):
        model.addFrame(pin.Frame(link, joint, pin.SE3.Identity(), pin.FrameType.BODY))
    model.addFrame(pin.Frame(BASE, 0, pin.SE3.Identity(), pin.FrameType.BODY))
    model.addFrame(pin.Frame(FLANGE, before, _flange(layout), pin.FrameType.BODY))
    return model


def link_name(link: int) -> str:
    """Of the link that joint `link` + 1 moves; -1: the base."""
    return LINKS[link + 1]


def _upright(arm: Layout) -> list[tuple[str, tuple[float, float, float]]]:
    """Axis of each joint and where it stands in the frame of the one before [m]."""
    shoulder = [
        ("Z", (0.0, 0.0, 0.0)),
        ("Y", (arm.shoulder_offset, 0.0, arm.shoulder_height)),
        ("Y", (0.0, 0.0, arm.upper_arm)),
    ]
    if arm.kind == "spherical-wrist":
        in_one_point = (0.0, 0.0, 0.0)
        wrist = [("Z", (-arm.elbow_offset, 0.0, 0.0)), ("Y", (0.0, 0.0, arm.forearm)), ("Z", in_one_point)]
    else:
        wrist = [
            ("Y", (0.0, 0.0, arm.forearm)),
            ("Z", (0.0, arm.wrist_side, 0.0)),
            ("Y", (0.0, 0.0, arm.wrist)),
        ]
    return shoulder + wrist


def _flange(arm: Layout) -> Any:
    if arm.kind == "spherical-wrist":
        return pin.SE3(np.eye(3), np.array([0.0, 0.0, arm.flange]))
    return pin.SE3(_about(0, -np.pi / 2), np.array([0.0, arm.flange, 0.0]))


def _about(axis: int, angle: float) -> np.ndarray:
    return np.asarray(pin.AngleAxis(angle, np.eye(3)[axis]).matrix())
