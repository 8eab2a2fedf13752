"""Where everything is and how far off it may be, between two elements of the chart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from handfast.model.grasp import Grasp
from handfast.model.scene import Attachment
from handfast.model.touch import Touch
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.uncertainty.arm_field import FieldStops
from handfast.uncertainty.error_form import Form, added, moved, pruned, reverse
from handfast.uncertainty.refusal import ChainError


@dataclass(frozen=True, eq=False, slots=True)
class Item:
    """A part or tool. nominal: T_world_item, None while nobody has said where a hand took it; form: its
    twist, T_world_item,actual = nominal @ Exp(xi).
    """

    nominal: Array | None
    form: Form


@dataclass(frozen=True, eq=False, slots=True)
class Hand:
    """stop: the element of its last motion; grasp: what it holds; held: the twist of the held item in the
    real jaws, T_grip_item,actual = Exp(eta) @ T_grip_item.
    """

    stop: str
    grasp: Grasp | None = None
    held: Form | None = None


@dataclass(frozen=True, eq=False, slots=True)
class Reading:
    """A touch that has been made: form (1 row) of measured minus expected travel [m]."""

    element: str
    mate: str
    touch: Touch
    form: Form


@dataclass(frozen=True, eq=False, slots=True)
class TakenBack:
    """How the hand's targets of a mate have moved: by Exp(-gain r) for these readings r, gain (6, r), in the
    frame of the first pair's fixed feature."""

    readings: tuple[Reading, ...]
    gain: Array


@dataclass(frozen=True, eq=False, slots=True)
class State:
    """items, parents by item name; hands by arm name; readings so far; fields: stops of each source that is a
    smooth field; bits: T_tool_bit by tool; taken_back: by mate."""

    items: Mapping[str, Item]
    parents: Mapping[str, Attachment]
    hands: Mapping[str, Hand]
    readings: tuple[Reading, ...] = ()
    fields: Mapping[str, FieldStops] = field(default_factory=dict)
    bits: Mapping[str, Array] = field(default_factory=dict)
    taken_back: Mapping[str, TakenBack] = field(default_factory=dict)

    def nominal(self, item: str, element: str) -> Array:
        """T_world_item. Raises ChainError where the chart does not say."""
        found = self.items.get(item)
        if found is None:
            known = ", ".join(self.items)
            raise ChainError(f"element {element!r}", f"one of the parts and tools {known}", repr(item))
        if found.nominal is None:
            raise ChainError(
                f"element {element!r}", f"a known place of {item!r}", "none: its last move has no motions",
                "give the element its motions, or the hand's pose",
            )  # fmt: skip
        return found.nominal

    def with_hand(self, arm: str, hand: Hand) -> State:
        """The state with one hand changed."""
        return replace(self, hands={**self.hands, arm: hand})

    def attached(self, attachment: Attachment) -> State:
        """The state with one item attached elsewhere; it stays where it is."""
        return replace(self, parents={**self.parents, attachment.item: attachment})

    def placed(self, name: str, item: Item) -> State:
        """The state with one item moved; what is fixed to it goes along, as far off it as it was."""
        before = self.items.get(name)
        state = replace(self, items={**self.items, name: item})
        for child, attachment in self.parents.items():
            if before is not None and attachment.parent in (f"part.{name}", f"tool.{name}"):
                state = state.placed(
                    child, _follow(state.items[child], attachment, before, item, state.bits.get(name))
                )
        return state


def _follow(child: Item, attachment: Attachment, before: Item, now: Item, bit: Array | None) -> Item:
    T_parent_child = attachment.pose.matrix
    if attachment.parent.startswith("tool.") and bit is not None:
        T_parent_child = bit @ T_parent_child
    change = added(now.form, reverse(before.form))
    # What the parent had before cancels: it is no longer a part of where the child is.
    form = pruned(added(child.form, moved(se3.inverse(T_parent_child), pruned(change))))
    nominal = None if now.nominal is None else now.nominal @ T_parent_child
    return Item(nominal, form)
