"""A touch: a guarded move until contact."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.spatial.pose import Pose, Vec3


@dataclass(frozen=True, slots=True)
class Touch:
    """The held part moves along `direction` until it meets a face of another part.

    point: on the held part, in its frame [m], where contact is expected; part, feature: the face that is
    touched; direction: of motion, unit, in the touched feature's frame; measures: the freedom of the
    touched part that the contact tells, as a unit vector in the touched feature's frame (the face
    normal); travel: from start to expected contact, overtravel: beyond it before the move gives up [m];
    force: threshold [N]; speed [m/s]. contact: T_feature_held, how the held part is to stand at the
    expected contact; None: whoever plans it may choose.
    """

    held: str
    point: Vec3
    part: str
    feature: str
    direction: Vec3
    travel: float
    overtravel: float
    force: float
    speed: float
    contact: Pose | None = None
