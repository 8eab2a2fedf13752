"""Two states of one sequence, before and after an edit: what stands otherwise."""

from __future__ import annotations

import numpy as np

from handfast.model.scene import Attachment, Scene
from handfast.planning.differing import Differing
from handfast.planning.state import State
from handfast.planning.workspace import Workspace

_SAME = 1e-9  # joints and poses that differ by less are the same [rad, m]
_Links = dict[str, tuple[Attachment, ...]]


class Comparison:
    """then: states of the earlier chart; now: of the plan that is being made."""

    def __init__(self, ws: Workspace, changed: set[str]) -> None:
        """changed: things whose shape or place is not as it was, by their names in the basis."""
        self._ws, self.changed = ws, changed
        self._fixed = frozenset(n for n in changed if n.startswith(("holder ", "obstacle ")))
        self._chains: dict[int, tuple[Scene, _Links]] = {}  # with the scene, so that its number stays its own
        self._moved: dict[tuple[int, int], frozenset[str]] = {}

    def same(self, then: State, now: State) -> bool:
        """Whether everything is attached where it was, and every hand stands and is opened as it was."""
        hands = all(then.widths[h] == now.widths[h] and same_joints(then.q[h], now.q[h]) for h in now.q)
        return hands and then.scene.attachments == now.scene.attachments

    def stands_as(self, then: State, now: State, item: str) -> bool:
        """Whether an item stands where it did, through whatever it is attached to."""
        if item in self._moved_in(then.scene, now.scene):
            return False
        kind, _, hand = self._links(now.scene)[item][-1].parent.partition(".")
        return kind != "hand" or self.hand_as(then, now, hand)

    def hand_as(self, then: State, now: State, hand: str) -> bool:
        """Whether a hand stands where it did, opened as it was."""
        same = then.widths[hand] == now.widths[hand] and f"arm {hand}" not in self.changed
        return same and same_joints(then.q[hand], now.q[hand])

    def differing(self, then: State, now: State, hand: str) -> Differing | None:
        """What stands otherwise while a hand moves; None if that is something it carries."""
        links, items = self._links(now.scene), set(self._moved_in(then.scene, now.scene))
        hands = {h for h in self._ws.hands if h != hand and not self.hand_as(then, now, h)}
        for item, chain in links.items():
            root = chain[-1].parent.removeprefix("hand.")
            if f"shape {item}" in self.changed or root in hands:
                items.add(item)
            if root == hand and item in items:
                return None
        return Differing(frozenset(items), self._fixed, frozenset(hands))

    def _links(self, scene: Scene) -> _Links:
        """For each item what it is attached to, and that, down to a place or a hand."""
        if id(scene) not in self._chains:
            direct = {a.item: a for a in scene.attachments}
            found: _Links = {}
            for item in direct:
                chain = [direct[item]]
                while chain[-1].parent.startswith(("part.", "tool.")):
                    chain.append(direct[chain[-1].parent[5:]])
                found[item] = tuple(chain)
            self._chains[id(scene)] = scene, found
        return self._chains[id(scene)][1]

    def _moved_in(self, then: Scene, now: Scene) -> frozenset[str]:
        """Items that stand otherwise from the place or the hand on that they are on."""
        key = (id(then), id(now))
        if key not in self._moved:
            a, b = self._links(then), self._links(now)
            self._moved[key] = frozenset(i for i in b if i not in a or not self._linked_as(a[i], b[i]))
        return self._moved[key]

    def _linked_as(self, then: tuple[Attachment, ...], now: tuple[Attachment, ...]) -> bool:
        if len(then) != len(now) or not all(map(_same, then, now)):
            return False
        on = (a.parent.partition(".") for a in now)
        return not any(kind in ("place", "tool") and f"{kind} {name}" in self.changed for kind, _, name in on)


def same_joints(a: np.ndarray, b: np.ndarray) -> bool:
    """Whether an arm stands at a as it does at b, (n,) each."""
    return bool(np.abs(a - b).max() <= _SAME)


def _same(a: Attachment, b: Attachment) -> bool:
    return a.parent == b.parent and (
        a.pose == b.pose or bool(np.abs(a.pose.matrix - b.pose.matrix).max() <= _SAME)
    )
