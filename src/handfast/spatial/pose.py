"""A pose as an immutable, hashable record field."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from handfast.spatial import se3

Vec3 = tuple[float, float, float]
Quat = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Pose:
    """Pose of one frame in another. position [m]; quaternion (w, x, y, z), unit, w >= 0."""

    position: Vec3 = (0.0, 0.0, 0.0)
    quaternion: Quat = (1.0, 0.0, 0.0, 0.0)

    @property
    def matrix(self) -> se3.Array:
        """The same pose as a (4, 4) array [m], not to be written to."""
        return _matrix(self.position, self.quaternion)

    @staticmethod
    def from_matrix(transform: se3.Array) -> Pose:
        """From a (4, 4) array [m]; the rotation is taken as it is, its scale is not repaired."""
        x, y, z = (float(v) for v in transform[:3, 3])
        w, i, j, k = (float(v) for v in se3.quaternion(transform[:3, :3]))
        return Pose((x, y, z), (w, i, j, k))


@lru_cache(maxsize=65536)
def _matrix(position: Vec3, quaternion: Quat) -> se3.Array:
    matrix = se3.pose(se3.rotation_from_quaternion(np.array(quaternion)), np.array(position))
    matrix.flags.writeable = False  # shared by everyone who asks for the same pose
    return matrix
