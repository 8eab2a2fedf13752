"""What every event is checked against, and what it answers with."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from handfast.model.element import Element
from handfast.model.mate import Mate
from handfast.model.project import Project
from handfast.model.proof import Violation, ViolationKind
from handfast.model.scene import Attachment
from handfast.proof.allowances import Allowed, by_pair, lasting
from handfast.proof.bodies import CellBodies
from handfast.proof.motion_checks import line_of
from handfast.proof.standing import Carrier, Standing, carrier_of, item_pose, relative
from handfast.proof.stl import Array
from handfast.proof.tolerances import ANGLE, POSITION
from handfast.spatial import se3

Outcome = tuple[Standing, list[Violation]]


@dataclass(frozen=True)
class Replay:
    """What an event is checked against."""

    project: Project
    cell: CellBodies
    _carried: list[tuple[Mapping[str, object], dict[str, Carrier]]] = field(default_factory=list, repr=False)

    @cached_property
    def lasting(self) -> Allowed:
        """What may touch for the whole chart."""
        return by_pair(lasting(self.project))

    def carriers(self, standing: Standing) -> dict[str, Carrier]:
        """What each item moves with: worked out anew only where one has come to something else."""
        if not self._carried or self._carried[0][0] is not standing.parents:
            own = {item: carrier_of(self.project, self.cell, standing, item) for item in standing.parents}
            self._carried[:] = [(standing.parents, own)]
        return self._carried[0][1]

    def pose_of(self, standing: Standing) -> Callable[[str], Array]:
        """T_world_item as things stand."""
        return lambda item: item_pose(self.project, self.cell, standing, item)

    def mate(self, name: str) -> Mate | None:
        """The mate of that name, if there is one."""
        return next((mate for mate in self.project.product.mates if mate.name == name), None)


def in_hand(standing: Standing, arm: str, item: str) -> bool:
    """True if the hand holds the item, or the tool whose bit carries it."""
    hold = standing.holds.get(arm)
    if hold is None or item not in standing.parents:
        return False
    return hold.item == item or standing.parents[item][0] == f"tool.{hold.item}"


def check_stated(element: Element, leaves: Attachment, T_parent_item: Array, time: float) -> list[Violation]:
    """Where the chart says an item is left, against where it is."""
    off, turned = se3.distance(leaves.pose.matrix, T_parent_item)
    if off <= POSITION and turned <= ANGLE:
        return []
    text = (
        f"{line_of(element)}: {leaves.item!r} is {1e3 * off:.3f} mm and {math.degrees(turned):.2f} deg off "
        f"where the chart says it is left ({leaves.parent})"
    )
    return [made("wrong place", element, time, off, text)]


def made(kind: ViolationKind, element: Element, time: float, amount: float, text: str) -> Violation:
    """A violation of an element."""
    return Violation(kind, element.number, time, amount, element.hand, element.object, text)


def in_place(replay: Replay, standing: Standing, mate: Mate, is_home: bool) -> Standing:
    """The part of a mate stays in the part it goes into, where it now is."""
    pose_of = replay.pose_of(standing)
    standing = standing.placed(
        mate.part, f"part.{mate.into}", relative(pose_of(mate.into), pose_of(mate.part))
    )
    if is_home and mate.name not in standing.done:
        standing = replace(standing, done=(*standing.done, mate.name))
    return standing
