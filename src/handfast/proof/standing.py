"""How everything stands at one instant of the replay."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from handfast.model.project import Project
from handfast.proof.bodies import CellBodies
from handfast.proof.stl import Array
from handfast.spatial import se3


@dataclass(frozen=True)
class Hold:
    """A hand holds an item: T_grip_item is where the replay found it, not what the chart says. since: element
    number."""

    item: str
    T_grip_item: Array
    since: int


@dataclass(frozen=True)
class Standing:
    """parents: item -> ("place.HOLDER.PLACE" | "hand.ARM" | "part.NAME" | "tool.NAME", T_parent_item); q:
    where each arm stands [rad]; widths: of its jaws [m]; holds: what is between them; done: mates, in order;
    rests: item -> the place it lies on or came from; rounds: screw mate -> how many rounds of its pattern it
    has had; begun: screw mate -> how far it was before home [m] when the use that drives it began."""

    parents: Mapping[str, tuple[str, Array]]
    q: Mapping[str, Array]
    widths: Mapping[str, float]
    holds: Mapping[str, Hold]
    done: tuple[str, ...] = ()
    rests: Mapping[str, str] | None = None
    rounds: Mapping[str, int] = field(default_factory=dict)
    begun: Mapping[str, float] = field(default_factory=dict)

    def placed(self, item: str, parent: str, T_parent_item: Array) -> Standing:
        """With an item attached elsewhere."""
        return replace(self, parents={**self.parents, item: (parent, T_parent_item)})

    def holding(self, arm: str, hold: Hold | None) -> Standing:
        """With something, or nothing, between the jaws of an arm."""
        others = {name: kept for name, kept in self.holds.items() if name != arm}
        return replace(self, holds=others if hold is None else {**others, arm: hold})

    def at(self, arm: str, q: Array) -> Standing:
        """With an arm standing elsewhere."""
        return replace(self, q={**self.q, arm: q})

    def opened(self, arm: str, width: float) -> Standing:
        """With the jaws of an arm at another width."""
        return replace(self, widths={**self.widths, arm: width})

    def holders_of(self, item: str) -> tuple[str, ...]:
        """The arms whose jaws are closed on an item."""
        return tuple(arm for arm, hold in self.holds.items() if hold.item == item)


@dataclass(frozen=True)
class Carrier:
    """What an item moves with: an arm's last joint, or the world (arm "")."""

    arm: str
    T_carrier_item: Array


def carrier_of(project: Project, cell: CellBodies, standing: Standing, item: str) -> Carrier:
    """Follow the parents of an item down to a hand or the world."""
    T_parent_item = np.eye(4)
    seen: set[str] = set()
    while True:
        if item in seen:
            raise ValueError(f"{item!r} is attached to itself")
        seen.add(item)
        parent, T = standing.parents[item]
        T_parent_item = T @ T_parent_item
        kind, _, name = parent.partition(".")
        if kind == "place":
            return Carrier("", place_pose(project, parent) @ T_parent_item)
        if kind == "hand":
            return Carrier(name, cell.T_joint_grip[name] @ T_parent_item)
        if kind == "tool":
            T_parent_item = project.cell.tool(name).bit.matrix @ T_parent_item
        item = name


def place_pose(project: Project, parent: str) -> Array:
    """T_world_place of "place.HOLDER.PLACE". Raises KeyError if there is none."""
    _, holder_name, place_name = parent.split(".")
    holder = project.cell.holder(holder_name)
    for place in holder.places:
        if place.name == place_name:
            return np.asarray(holder.pose.matrix @ place.pose.matrix)
    raise KeyError(f"holder {holder_name!r} has no place {place_name!r}")


def grip_pose(cell: CellBodies, standing: Standing, arm: str) -> Array:
    """T_world_grip where the arm stands."""
    return np.asarray(cell.arms[arm].joint_poses(standing.q[arm])[-1] @ cell.T_joint_grip[arm])


def item_pose(project: Project, cell: CellBodies, standing: Standing, item: str) -> Array:
    """T_world_item where everything stands."""
    carrier = carrier_of(project, cell, standing, item)
    if not carrier.arm:
        return carrier.T_carrier_item
    return np.asarray(
        cell.arms[carrier.arm].joint_poses(standing.q[carrier.arm])[-1] @ carrier.T_carrier_item
    )


def parent_pose(project: Project, cell: CellBodies, standing: Standing, parent: str) -> Array:
    """T_world_parent of a place, hand, part or tool's bit. Raises KeyError if there is none."""
    kind, _, name = parent.partition(".")
    if kind == "place":
        return place_pose(project, parent)
    if kind == "hand":
        if name not in cell.arms:
            raise KeyError(f"there is no hand {name!r}")
        return grip_pose(cell, standing, name)
    if name not in standing.parents or kind not in ("part", "tool"):
        raise KeyError(f"there is no {parent!r} to attach to")
    pose = item_pose(project, cell, standing, name)
    return np.asarray(pose @ project.cell.tool(name).bit.matrix) if kind == "tool" else pose


def relative(T_world_parent: Array, T_world_item: Array) -> Array:
    """T_parent_item."""
    return np.asarray(se3.inverse(T_world_parent) @ T_world_item)
