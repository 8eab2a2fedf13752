"""Where everything is at one moment of the plan being made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

import numpy as np

from handfast.model.scene import Attachment, Scene
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

T = TypeVar("T")


@dataclass(frozen=True, eq=False, slots=True)
class State:
    """scene: what is attached where; q: joint values of each hand (n,); widths: how far each gripper stands
    open [m]; known: what was worked out of this state before, by what it is (a state belongs to one
    project)."""

    scene: Scene
    q: dict[str, Array]
    widths: dict[str, float]
    known: dict[tuple[str, ...], Any] = field(default_factory=dict, init=False)

    def once(self, key: tuple[str, ...], work: Callable[[], T]) -> T:
        """What `work` gives, done the first time only."""
        if key not in self.known:
            self.known[key] = work()
        found: T = self.known[key]
        return found

    def moved(self, hand: str, q: Array) -> State:
        """One arm standing elsewhere."""
        after = replace(self, q={**self.q, hand: np.asarray(q)})
        return self._still_known(after, f"hand.{hand}")

    def attached(self, item: str, parent: str, pose: Array) -> State:
        """One item attached elsewhere; pose: T_parent_item (4, 4)."""
        after = replace(self, scene=self.scene.moved(Attachment(item, parent, Pose.from_matrix(pose))))
        return self._still_known(after, f"part.{item}", f"tool.{item}")

    def opened(self, hand: str, width: float) -> State:
        """One gripper at another width [m]."""
        return self._still_known(replace(self, widths={**self.widths, hand: width}))

    def _still_known(self, after: State, *moved: str) -> State:
        """The next state, which knows the poses of what is not, through whatever it is attached to, on one of
        `moved`."""
        parents = {a.item: a.parent for a in self.scene.attachments}
        for key, value in self.known.items():
            if key[0] == "pose":
                parent = f"part.{key[1]}"
                while parent not in moved and parent[:5] in ("part.", "tool."):
                    if f"tool.{parent[5:]}" in moved or f"part.{parent[5:]}" in moved:
                        break
                    parent = parents[parent[5:]]
                else:
                    if parent not in moved:
                        after.known[key] = value
        return after

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
