"""A touch that the project writes as a face: where and how the held part meets it."""

from __future__ import annotations

import numpy as np

from handfast.mates.home import motion_axis
from handfast.model.feature import Feature
from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.model.touch import Touch
from handfast.planning.state import State
from handfast.planning.workspace import Workspace
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array
from handfast.standards.threads import coarse_thread

TRAVEL = 0.004  # from the start of the guarded move to the contact that is expected [m]
OVERTRAVEL = 0.003  # beyond it, before the move gives up [m]
_DIP = 0.008  # the contact lies this far inside the face's edge [m]
_UP_SHAFT = 0.005  # and this far up the shaft from its tip [m]


def written_touch(
    ws: Workspace,
    state: State,
    hand: str,
    mate: Mate,
    grasp: Grasp,
    T_world_home: Array,
    part: str,
    face: str,
) -> Touch:
    """The part as it goes home, moved straight onto the face as near to its home as the edges allow."""
    product = ws.project.product
    feature = product.part(part).feature(face)
    T_face = ws.pose(state, part) @ feature.frame.matrix
    moving = product.part(mate.part).feature(mate.pairs[0].moving)
    point = contact_point(moving, T_world_home[:3, :3].T @ -T_face[:3, 2])
    T_held = T_world_home.copy()
    on_face = _on_face(T_face, feature, T_world_home, motion_axis(product, mate))
    T_held[:3, 3] = on_face - T_world_home[:3, :3] @ point
    x, y, z = (float(v) for v in point)
    return Touch(
        mate.part, (x, y, z), part, face, (0.0, 0.0, -1.0), TRAVEL, OVERTRAVEL, _threshold(ws, hand, grasp),
        ws.project.cell.controller.touch_speed, Pose.from_matrix(se3.inverse(T_face) @ T_held),
    )  # fmt: skip


def contact_point(moving: Feature, direction: Array) -> Array:
    """Where the held part meets a face when it travels along `direction` (3,), unit, in the part frame: (3,)
    [m].

    On the flank of a shaft, a little up from its tip; on the tip's edge where the shaft points into the face.
    """
    frame = moving.frame.matrix
    across = direction - (direction @ frame[:3, 2]) * frame[:3, 2]
    diameter = coarse_thread(moving.thread).diameter if moving.thread else moving.diameter or 0.0
    if np.linalg.norm(across) < 0.5:
        return np.asarray(frame[:3, 3])
    return np.asarray(
        frame[:3, 3] - _UP_SHAFT * frame[:3, 2] + diameter / 2 * across / np.linalg.norm(across)
    )


def _on_face(T_face: Array, face: Feature, T_world_home: Array, axis: Array) -> Array:
    """The point of a face to touch, in world (3,): as near as possible to the home position, inside the
    edges."""
    back = -(T_face[:3, :3].T @ (T_world_home[:3, :3] @ axis))[:2]
    half = np.array(face.size or (0.0, 0.0)) / 2
    local = (T_face[:3, :3].T @ (T_world_home[:3, 3] - T_face[:3, 3]))[:2]
    room = np.maximum(half - _DIP, 0.0)
    local = np.clip(local, -room, room)
    along = np.abs(back) > 0.5
    local[along] = np.sign(back[along]) * room[along]
    return np.asarray(T_face[:3, :3] @ np.array([*local, 0.0]) + T_face[:3, 3])


def _threshold(ws: Workspace, hand: str, grasp: Grasp) -> float:
    """Contact force [N]: three times the sensor's noise at least, under half of the grasp's slip limit."""
    noise = [s.noise for s in ws.project.cell.force_sensors if s.arm == hand]
    return min(max(3 * max(noise, default=1.0), 2.0), grasp.slip_force / 2)
