"""What hands have to reach for a product to be built: poses of parts and tools, each bound to a holder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from handfast.mates.home import assembled_poses
from handfast.mates.subassemblies import stands_on
from handfast.model.mate import Mate
from handfast.model.project import Project
from handfast.planning.fasten import socket_frame
from handfast.planning.workspace import Workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_ROLLS = 4  # of a bit in its screw that are looked at; the planner has twelve
_Z = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, eq=False, slots=True)
class Need:
    """An item that a hand has to hold at a pose which moves with a holder.

    when: where it lies at the start, on the way (a bit over a screw that waits), or where it goes (nowhere
    that is known, if that is in a hand);
    T_holder_item: (r, 4, 4), poses of which any will do.
    """

    item: str
    holder: str
    when: Literal["start", "way", "end"]
    T_holder_item: Array


@dataclass(frozen=True, slots=True)
class Task:
    """A mate: what one hand has to reach in turn, or, if it may be handed over, one hand the first and
    another the last. held_until: the mate until which the hand stays."""

    mate: str
    needs: tuple[Need, ...]
    handover: bool
    held_until: str | None


def tasks_of(ws: Workspace) -> tuple[Task, ...]:
    """The tasks of a product, in the order of the file."""
    return tuple(_task(ws, mate) for mate in ws.project.product.mates)


def _task(ws: Workspace, mate: Mate) -> Task:
    project, part = ws.project, mate.part
    root, poses = stands_on(project.product, mate), assembled_poses(project.product)
    home = se3.inverse(poses[root]) @ poses[part]
    where = _stands(project, mate, root)
    holder, start = _lies(project, part)
    if mate.tool is None:
        first = Need(part, holder, "start", start[None])
        ends = () if where is None else (Need(part, where[0], "end", (where[1] @ home)[None]),)
        return Task(mate.name, (first, *ends), where is not None, mate.held_until)
    tool = project.cell.tool(mate.tool)
    stand, T_stand_tool = _lies(project, tool.name)
    rolls = np.array([se3.rotation(_Z, 2 * np.pi * i / _ROLLS) for i in range(_ROLLS)])
    on_screw = socket_frame(ws, part) @ rolls @ se3.inverse(tool.bit.matrix)
    needs = (
        Need(tool.name, stand, "start", T_stand_tool[None]),
        Need(tool.name, holder, "way", start @ on_screw),
    )
    ends = () if where is None else (Need(tool.name, where[0], "end", where[1] @ home @ on_screw),)
    return Task(mate.name, (*needs, *ends), False, None)


def _stands(project: Project, mate: Mate, root: str) -> tuple[str, Array] | None:
    """The holder in which what the mate is built on stands while it is done, and T_holder_root; None if it is
    in a hand, which may be anywhere."""
    if mate.stands is None:
        return _lies(project, root)
    kind, _, name = mate.stands.partition(".")
    if kind == "hand":
        return None
    holder, _, place = name.partition(".")
    return holder, next(p for p in project.cell.holder(holder).places if p.name == place).pose.matrix


def _lies(project: Project, item: str) -> tuple[str, Array]:
    """The holder in which an item lies at the start, and T_holder_item."""
    holder, place = project.cell.place_of(item)
    return holder.name, place.pose.matrix
