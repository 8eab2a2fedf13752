"""Which elements of the two hands must keep their order when both work at once."""

from __future__ import annotations

import math
from bisect import bisect
from collections.abc import Callable, Iterator

import numpy as np

from handfast import _kernel
from handfast.model.element import Element
from handfast.model.product import Product
from handfast.motion.timing import at
from handfast.motion.two_hands import Before
from handfast.planning.clear_line import blocked
from handfast.planning.meetings import STEP
from handfast.planning.state import State
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

_CONTACT = ("assemble", "use", "locate", "grasp", "release")
_CARRIES = ("move", "position", *_CONTACT)


def precedences(
    ws: Workspace,
    elements: tuple[Element, ...],
    states: tuple[State, ...],
    own: list[list[int]],
    lengths: list[list[int]],
) -> list[Before]:
    """What must be over in one hand before the other begins an element, as the sequence has it.

    lengths: of each hand's elements [steps]. What follows from another, because each hand does its own
    elements in turn, is left out."""
    roots = _taken_elsewhere(ws)

    def until(early: int, late: int, steps: int) -> int:
        if done_first(ws.project.product, elements[early], elements[late]):
            return steps
        if _in_the_way(ws, elements, states, early, late):
            return steps
        return min(
            steps, _handled(elements[early], elements[late], _shared(elements, states, roots, early, late))
        )

    out = []
    for first in (0, 1):
        for i, j, steps in _waits(own[first], own[1 - first], lengths[first], until):
            out.append((i, j, True, steps) if first == 0 else (j, i, False, steps))
    return out


def done_first(product: Product, one: Element, two: Element) -> bool:
    """Whether an element has to find the mate done that another does: its own mate is built on it or asks for
    it, or it lets go what is held until then."""
    if one.kind not in ("assemble", "use") or not one.mate or not two.mate or one.mate == two.mate:
        return False
    first, mate = product.mate(one.mate), product.mate(two.mate)
    if two.kind == "release":
        return any(m.held_until == first.name for m in product.mates if m.part == two.object)
    if two.kind not in ("assemble", "use") or two.target.startswith(("place.", "tool.")):
        return False
    return first.part in (*mate.joined, mate.into) or first.name in mate.needs


def shared(
    ws: Workspace, elements: tuple[Element, ...], states: tuple[State, ...], early: int, late: int
) -> set[str]:
    """What both elements handle."""
    return _shared(elements, states, _taken_elsewhere(ws), early, late)


def _shared(
    elements: tuple[Element, ...], states: tuple[State, ...], roots: set[str], early: int, late: int
) -> set[str]:
    one, two = handles(elements[early]), handles(elements[late])
    if not roots:
        return one & two
    return one & two | _built_into(states[early], one) & _built_into(states[late], two) & roots


def _waits(
    early: list[int], late: list[int], lengths: list[int], until: Callable[[int, int, int], int]
) -> Iterator[tuple[int, int, int]]:
    """Elements of one hand, the first of the other that must wait for each, and for how many of its steps."""
    nearest = len(late)
    for i in reversed(range(len(early))):
        for j in range(bisect(late, early[i]), nearest):
            steps = until(early[i], late[j], lengths[i])
            if steps:
                nearest = min(nearest, j)
                yield i, j, steps
            if steps == lengths[i]:
                break


def _handled(one: Element, two: Element, shared: set[str]) -> int:
    """Steps of the first within which it handles what the second handles too: a thing that both carry, or a
    place, part or hand at which both are at work. Letting go handles only until the jaws are open."""
    if not one.object or not two.object or not shared:
        return 0
    return math.ceil((one.before_s if one.kind == "release" else one.duration_s) / STEP + 1e-6)


def _taken_elsewhere(ws: Workspace) -> set[str]:
    """Parts that are carried with what is built into them: whoever builds on one works at all of it."""
    product = ws.project.product
    carried = {s.base for s in product.subassemblies}
    return carried | {product.base for m in product.mates if m.stands is not None}


def _built_into(state: State, things: set[str]) -> set[str]:
    """The parts among these, and those that they are built into, one in the other."""
    parents = {a.item: a.parent for a in state.scene.attachments}
    out = set[str]()
    for thing in things:
        below = thing
        while below in parents:
            out.add(below)
            below = parents[below].removeprefix("part.")
    return out


def handles(e: Element) -> set[str]:
    """What an element handles: what it carries, and the place, part, tool or hand that it works at."""
    out = {e.object} if e.kind in _CARRIES else set()
    if e.kind in _CONTACT and e.target not in ("", "home", "clear"):
        kind = e.target.partition(".")[0]
        out.add(e.target if kind in ("place", "hand", "tool") else kind)
    return out


def _in_the_way(
    ws: Workspace, elements: tuple[Element, ...], states: tuple[State, ...], early: int, late: int
) -> bool:
    """Whether the motions of one pass through where the other's object lies before or after it is handled."""
    if not elements[early].object or not elements[late].object:
        return False
    for mover, handler in ((early, late), (late, early)):
        e, object_ = elements[mover], elements[handler].object
        if not e.motions or elements[handler].kind not in ("grasp", "release", "use", "assemble"):
            continue
        if any(object_ == name for name, _ in ws.carried(states[mover], e.hand)):
            continue  # it comes along
        after = states[handler + 1] if handler + 1 < len(states) else states[handler]
        elsewhere = states[handler] if handler < mover else after
        if object_ not in ws.items:
            continue
        along = ws.group(elsewhere, object_) if object_ in _taken_elsewhere(ws) else []
        for name in (object_, *(name for name, _ in along)):
            if not _clear_of(ws, e, states[mover], name, ws.pose(elsewhere, name)):
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
