"""A camera that finds parts."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.spatial.pose import Pose


@dataclass(frozen=True, slots=True)
class Camera:
    """pose: T_world_camera (z along the view); field_of_view [rad]; sigma: of a located part, in the
    part's frame, per freedom: x, y, z [m], rotations [rad]."""

    name: str
    pose: Pose
    field_of_view: float
    sigma: tuple[float, float, float, float, float, float]
