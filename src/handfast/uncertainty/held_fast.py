"""Whether a place holds a part so tightly that closing jaws cannot push it to their middle.

Jaws push with their closing force; against them stand the force with which the place holds the part and
friction under its weight. Where these are more, the part stays where it is: the jaws do not measure, closed
freedoms keep what they had, and hand and fingers bend by as much as the jaws would have pushed. Statics, at
the edge of what slides (Coulomb). That bent fingers spring back once the part is lifted out is not counted.
"""

from __future__ import annotations

from handfast.model.gripper import Gripper
from handfast.model.holder import Place
from handfast.model.project import Project
from handfast.uncertainty.chain_state import State
from handfast.uncertainty.load import GRAVITY
from handfast.uncertainty.sources import Sources


def held_fast(project: Project, state: State, item: str, gripper: Gripper) -> bool:
    """Of an item that lies in a place and in no hand."""
    place = _place_of(project, state, item)
    return place is not None and place.holding + _friction(project, item) >= gripper.force


def bending(project: Project, sources: Sources, gripper: Gripper, offset: float) -> float:
    """Side force [N] of a hand whose jaws are off by `offset` [m] from what they close on: by the fingers'
    stiffness where it is written, else the hand's; no more than the jaws close with."""
    fingers = sources.by_edge.get(f"gripper.{gripper.name}.fingers", ())
    compliance = sum(s.compliance[1] for s in fingers) or 1 / project.cell.controller.lateral_stiffness
    return min(offset / compliance, gripper.force)


def _place_of(project: Project, state: State, item: str) -> Place | None:
    if any(hand.grasp is not None and hand.grasp.item == item for hand in state.hands.values()):
        return None
    kind, _, path = state.parents[item].parent.partition(".")
    holder, _, name = path.partition(".")
    if kind != "place":
        return None
    return next((p for p in project.cell.holder(holder).places if p.name == name), None)


def _friction(project: Project, item: str) -> float:
    part = next((p for p in project.product.parts if p.name == item), None)
    return 0.0 if part is None else part.friction * part.mass * GRAVITY
