"""What is attached where."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.spatial.pose import Pose


@dataclass(frozen=True, slots=True)
class Attachment:
    """parent: "place.HOLDER.PLACE", "hand.ARM", "part.NAME" or "tool.NAME"; pose: T_parent_item, where the
    parent frame is the place frame, the grip frame, the part frame or the bit frame."""

    item: str
    parent: str
    pose: Pose


@dataclass(frozen=True, slots=True)
class Scene:
    """Where every part and tool is, and how wide each hand stands open [m]."""

    attachments: tuple[Attachment, ...]
    openings: tuple[tuple[str, float], ...] = ()

    def of(self, item: str) -> Attachment:
        """Where an item is. Raises KeyError if it is unknown."""
        for attachment in self.attachments:
            if attachment.item == item:
                return attachment
        raise KeyError(f"{item!r} is not in the scene")

    def moved(self, attachment: Attachment) -> Scene:
        """The scene with one item attached elsewhere."""
        rest = tuple(a for a in self.attachments if a.item != attachment.item)
        return Scene((*rest, attachment), self.openings)

    def opened(self, arm: str, width: float) -> Scene:
        """The scene with one hand standing at another width [m]."""
        rest = tuple(o for o in self.openings if o[0] != arm)
        return Scene(self.attachments, (*rest, (arm, width)))
