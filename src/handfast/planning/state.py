"""Where everything is at one moment of the plan being made."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from handfast.model.scene import Attachment, Scene
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class State:
    """scene: what is attached where; q: joint values of each hand (n,); widths: how far each gripper stands
    open [m]."""

    scene: Scene
    q: dict[str, Array]
    widths: dict[str, float]

    def moved(self, hand: str, q: Array) -> State:
        """One arm standing elsewhere."""
        return replace(self, q={**self.q, hand: np.asarray(q)})

    def attached(self, item: str, parent: str, pose: Array) -> State:
        """One item attached elsewhere; pose: T_parent_item (4, 4)."""
        return replace(self, scene=self.scene.moved(Attachment(item, parent, Pose.from_matrix(pose))))

    def opened(self, hand: str, width: float) -> State:
        """One gripper at another width [m]."""
        return replace(self, widths={**self.widths, hand: width})

    def without(self, items: set[str]) -> State:
        """The state with items taken out of the scene, as if they were not there at all."""
        kept = tuple(a for a in self.scene.attachments if a.item not in items)
        return replace(self, scene=replace(self.scene, attachments=kept))

    def held_by(self, hand: str) -> str | None:
        """What a hand holds."""
        for attachment in self.scene.attachments:
            if attachment.parent == f"hand.{hand}":
                return attachment.item
        return None
