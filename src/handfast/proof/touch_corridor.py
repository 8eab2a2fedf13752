"""Where a guarded move lets the held part touch a face."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.model.product import Product
from handfast.model.touch import Touch
from handfast.proof.corridor import PoseOf
from handfast.proof.stl import Array
from handfast.proof.tolerances import (
    RESOLUTION,
    SKIN,
    TOUCH_LEAD,
)
from handfast.spatial import se3


@dataclass(frozen=True)
class TouchCorridor:
    """A guarded move: from the stated travel before the face to the stated overtravel behind it."""

    product: Product
    touch: Touch

    def relief(self, pose_of: PoseOf, reach: float, turn: float) -> Array | None:
        """Back along the guarded move, by as much as it may press on."""
        found = touch_gap(self.product, self.touch, pose_of)
        if found is None:
            return None
        gap, inside, towards = found
        overtravel = self.touch.overtravel
        if not inside or not -overtravel - RESOLUTION <= gap <= self.touch.travel + TOUCH_LEAD:
            return None
        return np.asarray(-towards * (max(-gap, 0.0) + SKIN))


def touch_gap(product: Product, touch: Touch, pose_of: PoseOf) -> tuple[float, bool, Array] | None:
    """Way still to go to the face [m], whether it is met within its edges, and the direction in the world.

    None if the guarded move does not lead into the face at all.
    """
    face = product.part(touch.part).feature(touch.feature)
    T_world_face = pose_of(touch.part) @ face.frame.matrix
    point = se3.inverse(T_world_face) @ pose_of(touch.held) @ np.array([*touch.point, 1.0])
    direction = np.array(touch.direction)
    if direction[2] > -0.5:
        return None
    gap = float(point[2] / -direction[2])
    met = point[:3] + gap * direction
    inside = face.size is None or bool(np.all(np.abs(met[:2]) <= np.array(face.size) / 2))
    return gap, inside, np.asarray(T_world_face[:3, :3] @ direction)
