"""Which elements of the two hands must keep their order when both work at once."""

from __future__ import annotations

import numpy as np

from handfast import _kernel
from handfast.model.element import Element
from handfast.motion.timing import at
from handfast.planning.clear_line import blocked
from handfast.planning.meetings import STEP
from handfast.planning.state import State
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

_NEAR_WORK = ("position", "assemble", "use", "release", "locate", "grasp")


def precedences(
    ws: Workspace, elements: tuple[Element, ...], states: tuple[State, ...], own: list[list[int]]
) -> list[tuple[int, int, bool]]:
    """Pairs of elements that keep the order of the sequence, as (first hand's, second hand's, forwards)."""
    out = []
    for i, a in enumerate(own[0]):
        for j, b in enumerate(own[1]):
            early, late = min(a, b), max(a, b)
            if _keeps_order(ws, elements, states, early, late):
                out.append((i, j, a < b))
    return out


def _keeps_order(
    ws: Workspace, elements: tuple[Element, ...], states: tuple[State, ...], early: int, late: int
) -> bool:
    """Whether `late` may not overlap or overtake `early`: the same thing or the same place is handled, or one
    would be in the other's way where the sequence has it out of it."""
    one, two = elements[early], elements[late]
    if not one.object or not two.object:
        return False
    things = {one.object, *_places(one)}, {two.object, *_places(two)}
    if things[0] & things[1] and any(
        e.kind in _NEAR_WORK or e.target.startswith("hand.") for e in (one, two)
    ):
        return True
    return _in_the_way(ws, elements, states, early, late)


def _places(e: Element) -> set[str]:
    """What an element works at: the holder, part, tool or hand that its target names."""
    kind, _, rest = e.target.partition(".")
    if e.kind == "move" or e.target in ("", "home", "clear"):
        return set()
    return {f"{kind}.{rest.partition('.')[0]}" if kind in ("place", "hand", "tool") else kind}


def _in_the_way(
    ws: Workspace, elements: tuple[Element, ...], states: tuple[State, ...], early: int, late: int
) -> bool:
    """Whether the motions of one pass through where the other's object lies before or after it is handled."""
    for mover, handler in ((early, late), (late, early)):
        e, object_ = elements[mover], elements[handler].object
        if not e.motions or elements[handler].kind not in ("grasp", "release", "use", "assemble"):
            continue
        after = states[handler + 1] if handler + 1 < len(states) else states[handler]
        elsewhere = states[handler] if handler < mover else after
        if object_ in ws.items and not _clear_of(ws, e, states[mover], object_, ws.pose(elsewhere, object_)):
            return True
    return False


def _clear_of(ws: Workspace, e: Element, state: State, item: str, T_world_item: Array) -> bool:
    """Whether an element's motions keep the free-space clearance from an item standing somewhere; lines are
    looked at exactly."""
    body = ws.items[item]
    world = _kernel.World(box_poses=T_world_item @ body.box_poses, box_halves=body.box_halves)
    cover = ws.hand_cover(state, e.hand)
    for motion in e.motions:
        q = at(motion, np.arange(0, motion.duration + STEP, STEP))
        if _kernel.free(cover, world, q, ws.margin).all():
            continue
        h = ws.hands[e.hand]
        ends = [h.grip(np.array(motion.q[k])) for k in (0, -1)]
        if motion.path == "free" or blocked(
            ws.moving(state, e.hand),
            [(body.exact, T_world_item)],
            ends[0],
            ends[1][:3, 3] - ends[0][:3, 3],
            memo=ws.memo,
        ):
            return False
    return True
