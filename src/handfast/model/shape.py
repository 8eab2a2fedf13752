"""Shapes that bodies are made of."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.spatial.pose import Pose, Vec3


@dataclass(frozen=True, slots=True)
class Box:
    """Box centred on its frame. size: full edge lengths [m]."""

    size: Vec3


@dataclass(frozen=True, slots=True)
class Cylinder:
    """Cylinder centred on its frame, along z. radius, length [m]."""

    radius: float
    length: float


@dataclass(frozen=True, slots=True)
class Sphere:
    """Ball centred on its frame. radius [m]."""

    radius: float


@dataclass(frozen=True, slots=True)
class Mesh:
    """Closed triangle mesh in a file. path: relative to the project folder; scale: file unit -> m."""

    path: str
    scale: float


Shape = Box | Cylinder | Sphere | Mesh


@dataclass(frozen=True, slots=True)
class Solid:
    """A shape placed in the frame of the body it belongs to (pose: T_body_shape)."""

    shape: Shape
    pose: Pose = Pose()
