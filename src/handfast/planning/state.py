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
Known = dict[tuple[object, ...], Any]


@dataclass(frozen=True, eq=False, slots=True)
class State:
    """scene: what is attached where; q: joint values of each hand (n,); widths: how far each gripper stands
    open [m]. A state belongs to one project, and keeps what was worked out of it before, by what it is:

    known: of the state as a whole; around: of all that stands round a hand, itself and its load left out;
    loads: of a hand with its load, wherever it stands; poses: T_world_item. The next states take over what is
    the same in them.
    """

    scene: Scene
    q: dict[str, Array]
    widths: dict[str, float]
    known: Known = field(default_factory=dict, init=False)
    around: dict[str, Known] = field(default_factory=dict, init=False)
    loads: dict[str, Known] = field(default_factory=dict, init=False)
    poses: dict[str, Array] = field(default_factory=dict, init=False)

    def once(self, key: tuple[object, ...], work: Callable[[], T]) -> T:
        """What `work` gives, done the first time only."""
        return _once(self.known, key, work)

    def once_around(self, hand: str, key: tuple[object, ...], work: Callable[[], T]) -> T:
        """The same of something that depends only on what stands round a hand."""
        return _once(self.around.setdefault(hand, {}), key, work)

    def once_of(self, hand: str, key: tuple[object, ...], work: Callable[[], T]) -> T:
        """The same of something that depends only on a hand's jaws and on what it carries."""
        return _once(self.loads.setdefault(hand, {}), key, work)

    @property
    def upon(self) -> dict[str, tuple[Attachment, ...]]:
        """What is attached to each parent directly."""
        return self.once(("upon",), self._upon)

    def _upon(self) -> dict[str, tuple[Attachment, ...]]:
        found: dict[str, tuple[Attachment, ...]] = {}
        for a in self.scene.attachments:
            found[a.parent] = (*found.get(a.parent, ()), a)
        return found

    @property
    def parents(self) -> dict[str, str]:
        """What each item is attached to directly."""
        return self.once(("parents",), lambda: {a.item: a.parent for a in self.scene.attachments})

    def _index(self, after: State, there: Attachment) -> None:
        """The next state knows what is attached where, one item attached anew."""
        upon, old = dict(self.upon), self.parents.get(there.item)
        if old is not None:
            upon[old] = tuple(a for a in upon[old] if a.item != there.item)
        upon[there.parent] = (*upon.get(there.parent, ()), there)
        after.known["upon",] = upon
        after.known["parents",] = {**self.parents, there.item: there.parent}

    def moved(self, hand: str, q: Array) -> State:
        """One arm standing elsewhere."""
        after = State(self.scene, {**self.q, hand: np.asarray(q)}, self.widths)
        after.known["upon",], after.known["parents",] = self.upon, self.parents
        after.around[hand] = self.around.setdefault(hand, {})
        for name in self.q:
            after.loads[name] = self.loads.setdefault(name, {})
        self._still_there(after, tuple(a.item for a in self.upon.get(f"hand.{hand}", ())))
        return after

    def attached(self, item: str, parent: str, pose: Array) -> State:
        """One item attached elsewhere; pose: T_parent_item (4, 4)."""
        there = Attachment(item, parent, Pose.from_matrix(pose))
        after = State(self.scene.moved(there), self.q, self.widths)
        self._index(after, there)
        by = {self._carrier(item), parent if parent.startswith("hand.") else self._carrier(parent[5:])}
        for name in self.q:
            hand = f"hand.{name}"
            # How a hand holds the thing makes no difference to what stands round it.
            key = ("taken", item) if hand == parent else ("attached", item, parent, there.pose)
            after.around[name] = self.around.setdefault(name, {}).setdefault(key, {})
            if hand not in by:
                after.loads[name] = self.loads.setdefault(name, {})
        self._still_there(after, (item,))
        return after

    def opened(self, hand: str, width: float) -> State:
        """One gripper at another width [m]."""
        after = State(self.scene, self.q, {**self.widths, hand: width})
        after.known["upon",], after.known["parents",] = self.upon, self.parents
        for name in self.q:
            own = self.around.setdefault(name, {})
            after.around[name] = own if name == hand else own.setdefault(("opened", hand, width), {})
            if name != hand:
                after.loads[name] = self.loads.setdefault(name, {})
        after.poses.update(self.poses)
        return after

    def _still_there(self, after: State, moved: tuple[str, ...]) -> None:
        """The next state knows the poses of what is not, through whatever it is attached to, on `moved`."""
        after.poses.update(self.poses)
        waiting = list(moved)
        while waiting:
            item = waiting.pop()
            after.poses.pop(item, None)
            for kind in ("part", "tool"):
                waiting += [a.item for a in self.upon.get(f"{kind}.{item}", ())]

    def _carrier(self, item: str) -> str:
        """What an item is attached to in the end: a place or a hand; nothing if it is not there."""
        parent = self.parents.get(item, "")
        while parent[:5] in ("part.", "tool."):
            parent = self.parents.get(parent[5:], "")
        return parent

    def without(self, items: set[str]) -> State:
        """The state with items taken out of the scene, as if they were not there at all."""
        kept = tuple(a for a in self.scene.attachments if a.item not in items)
        return replace(self, scene=replace(self.scene, attachments=kept))

    def held_by(self, hand: str) -> str | None:
        """What a hand holds."""
        held = self.upon.get(f"hand.{hand}")
        return held[0].item if held else None


def _once(known: Known, key: tuple[object, ...], work: Callable[[], T]) -> T:
    if key not in known:
        known[key] = work()
    found: T = known[key]
    return found
