"""The flat faces of closed fingers, with which a hand can touch."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.gripper import Gripper
from handfast.spatial.pose import Vec3

BELOW = 0.008
"""How far fingertips reach below the middle of what their sides touch [m]."""


@dataclass(frozen=True, slots=True)
class FingerFace:
    """point: where it is meant to meet something, normal: out of the finger; both in the grip frame."""

    name: str
    point: Vec3
    normal: Vec3


def finger_faces(gripper: Gripper) -> tuple[FingerFace, ...]:
    """Of fingers that are closed as far as they go: the end, then the sides, each met in the middle of one
    finger."""
    x, y, _ = gripper.finger_size
    aside = gripper.opening[0] / 2 + y / 2
    return (
        FingerFace("end", (0.0, aside, 0.0), (0.0, 0.0, 1.0)),
        FingerFace("+x", (x / 2, aside, -BELOW), (1.0, 0.0, 0.0)),
        FingerFace("-x", (-x / 2, aside, -BELOW), (-1.0, 0.0, 0.0)),
        FingerFace("+y", (0.0, aside + y / 2, -BELOW), (0.0, 1.0, 0.0)),
        FingerFace("-y", (0.0, -aside - y / 2, -BELOW), (0.0, -1.0, 0.0)),
    )
