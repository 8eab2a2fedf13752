"""A pose with its uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.ledger import Matrix
from handfast.spatial.pose import Pose


@dataclass(frozen=True, slots=True)
class Estimate:
    """frame, item: T_frame_item; covariance (6, 6) [m, rad], translation first, in the item's frame."""

    frame: str
    item: str
    pose: Pose
    covariance: Matrix
