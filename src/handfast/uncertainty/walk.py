"""Walking through a chart, element by element, to the error forms at every mate."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from handfast.model.element import Element
from handfast.model.grasp import Grasp
from handfast.model.ledger import Matrix
from handfast.model.strategy import BackTurn
from handfast.model.tool import Tool
from handfast.model.touch import Touch
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.uncertainty.bit_form import bit_form, bit_over_socket
from handfast.uncertainty.chain_state import Hand, Item, State
from handfast.uncertainty.closing import Closing, closing
from handfast.uncertainty.entered_by import entered_by
from handfast.uncertainty.entry import Entry, PairEntry, enter, entry_and_home, go_home, take_back
from handfast.uncertainty.error_form import Form, covariance, mapped, moved
from handfast.uncertainty.held_fast import bending, held_fast
from handfast.uncertainty.home import fixed_frame, rolled_to
from handfast.uncertainty.jaws import Given, carry, close_jaws, in_hand
from handfast.uncertainty.load import NO_LOAD, Wrench, pressing
from handfast.uncertainty.refusal import ChainError
from handfast.uncertainty.start_state import start_state
from handfast.uncertainty.touch_form import touch_reading


def walk(given: Given, until: str = "") -> tuple[Entry, ...]:
    """One entry for each mate of the chart, in the order in which they are done. Raises ChainError.

    until: id of the last element to walk through, if not all of them.
    """
    return _walked(given.anew(), until)


def walk_twice(given: Given) -> tuple[tuple[Entry, ...], tuple[Entry, ...]]:
    """The same with touches and as if there were none. What is alike in both is worked out once."""
    given = given.anew()
    entries = _walked(given, "")
    if not any(entry.updates for entry in entries):
        return entries, entries
    return entries, _walked(replace(given, touches=False), "")


def _walked(given: Given, until: str) -> tuple[Entry, ...]:
    state = start_state(given)
    entries: dict[str, Entry] = {}
    taken: dict[str, tuple[PairEntry, ...]] = {}
    closed: dict[str, tuple[Closing, ...]] = {}
    for element in given.chart.elements:
        if element.hand not in state.hands:
            raise ChainError(
                f"element {element.id!r}", f"a hand: {', '.join(state.hands)}", repr(element.hand)
            )
        state, events = _STEPS.get(element.kind, _stay)(given, state, element)
        for event in events:
            if isinstance(event, Closing):
                closed[event.mate] = (*closed.get(event.mate, ()), event)
            elif isinstance(event, Taken):
                taken[event.mate] = (*taken.get(event.mate, ()), event.pair)
            elif event.mate.name in entries:
                raise ChainError(
                    f"element {element.id!r}", f"{event.mate.name!r} to go in once", "a second time"
                )
            else:
                entries[event.mate.name] = event
        if element.id == until:
            break
    return tuple(
        replace(entry, taken=taken.get(name, ()), closings=closed.get(name, ()))
        for name, entry in entries.items()
    )


@dataclass(frozen=True, eq=False, slots=True)
class Taken:
    """The bit goes to the screw of a mate."""

    mate: str
    pair: PairEntry


Step = tuple[State, tuple[Entry | Taken | Closing, ...]]


def _stay(given: Given, state: State, element: Element) -> Step:
    return state, ()


def _search(given: Given, state: State, element: Element) -> Step:
    """A camera finds the object: from then on the plan goes by its estimate and errs as it does."""
    if not element.target.startswith("camera."):
        return state, ()
    found = given.sources.form(element.target, element.id, element.id)
    return state.placed(element.object, Item(state.nominal(element.object, element.id), found)), ()


def _move(given: Given, state: State, element: Element) -> Step:
    state = _at_new_stop(state, element)
    return carry(given, state, element.hand, given.poses.get(element.id)), ()


def _grasp(given: Given, state: State, element: Element) -> Step:
    if element.grasp is None:
        raise ChainError(f"element {element.id!r}", "how the hand grasps", "no grasp")
    gripper = given.project.cell.gripper_of(element.hand)
    fast = held_fast(given.project, state, element.grasp.item, gripper)
    state, found = close_jaws(given, state, element.hand, element.grasp, element.id)
    told = closing(given.chart, element.id, gripper, found, given.sources.variances)
    if fast:
        off = math.hypot(found.mean[1], math.sqrt(covariance(found, given.sources.variances)[1, 1]))
        told = replace(told, bends=bending(given.project, given.sources, gripper, off))
    before, after = in_hand(given, state, element.hand, found)
    point = _point_in_grip(given, element.grasp, told.mate)
    return state, (replace(told, before=_spread(given, point, before), after=_spread(given, point, after)),)


def _point_in_grip(given: Given, grasp: Grasp, mate_name: str) -> Array:
    """Origin of the mate's moving feature if its part is what is held, else of what is held (3,) [m]."""
    mate = next((m for m in given.project.product.mates if m.name == mate_name), None)
    T = grasp.T_grip_part.matrix
    if mate is not None and mate.part == grasp.item and mate.pairs:
        T = T @ given.project.product.part(mate.part).feature(mate.pairs[0].moving).frame.matrix
    return np.asarray(T[:3, 3])


def _spread(given: Given, point: Array, form: Form) -> Matrix:
    """Covariance (3, 3) of a point that goes with a twist (first order)."""
    moves = np.hstack([np.eye(3), -se3.hat(point)])
    return tuple(tuple(row) for row in covariance(mapped(moves, form), given.sources.variances).tolist())


def _release(given: Given, state: State, element: Element) -> Step:
    hand = state.hands[element.hand]
    if hand.grasp is not None and hand.grasp.item == element.object:
        state = state.with_hand(element.hand, Hand(hand.stop))
    if element.leaves is not None and not element.leaves.parent.startswith("hand."):
        state = state.attached(element.leaves)
    return _at_new_stop(state, element) if element.motions else state, ()


def _locate(given: Given, state: State, element: Element) -> Step:
    touch = element.touch
    if touch is None:
        return state, ()
    state = _at_new_stop(state, element)
    contact = given.poses.get(element.id)
    if contact is None:
        raise ChainError(f"element {element.id!r}", "where contact is expected", "no motions")
    state = carry(given, state, element.hand, contact)
    state = carry(given, state, element.hand, contact, _pressed_back(given, state, element, touch))
    return replace(state, readings=(*state.readings, touch_reading(given, state, element, touch))), ()


def _pressed_back(given: Given, state: State, element: Element, touch: Touch) -> Wrench:
    """What the touched face does to the held part when the guarded move ends."""
    T_world_face = fixed_frame(state, given.project.product, touch.part, touch.feature, element.id)
    point = state.nominal(touch.held, element.id) @ np.array([*touch.point, 1.0])
    return pressing(point[:3], -touch.force * T_world_face[:3, :3] @ np.array(touch.direction))


def _assemble(given: Given, state: State, element: Element) -> Step:
    mate = given.project.product.mate(element.mate)
    grasp = state.hands[element.hand].grasp
    if grasp is None or grasp.item != mate.part:
        held = "nothing" if grasp is None else repr(grasp.item)
        raise ChainError(f"element {element.id!r}", f"hand {element.hand!r} to hold {mate.part!r}", held)
    state = _at_new_stop(state, element)
    at_mouth, home = entry_and_home(given, state, mate, element.id)
    T_world_grip = at_mouth @ se3.inverse(grasp.T_grip_part.matrix)
    state = carry(given, state, element.hand, T_world_grip)
    state, entry = enter(given, state, mate, element.id, T_world_grip, grasp.slip_force)
    state, entry = go_home(given, state, entry, home)
    return state, (entered_by(entry, element.strategy),)


def _use(given: Given, state: State, element: Element) -> Step:
    leaves = element.leaves
    if leaves is None:
        return state, ()
    state = _at_new_stop(state, element)
    if leaves.parent.startswith("tool."):
        return _take_up(given, state, element)
    if state.parents[leaves.item].parent.startswith("part."):
        return _drive_on(given, state, element)
    return _drive(given, state, element)


def _take_up(given: Given, state: State, element: Element) -> Step:
    """The bit takes a screw up: hexagon and suction set every freedom, so the screw errs as the bit does."""
    leaves = element.leaves
    if leaves is None:
        raise ChainError(f"element {element.id!r}", "what the bit takes up", "nothing")
    tool = given.project.cell.tool(leaves.parent.removeprefix("tool."))
    T_bit_item = leaves.pose.matrix
    T_world_tool = state.nominal(leaves.item, element.id) @ se3.inverse(tool.bit.matrix @ T_bit_item)
    state = _carry_tool(given, state, element.hand, tool.name, T_world_tool)
    events = _bit_goes(given, state, element, tool)
    form = moved(se3.inverse(T_bit_item), bit_form(given, state, tool, element.id))
    screw = Item(state.nominal(leaves.item, element.id), form)
    return state.placed(leaves.item, screw).attached(leaves), events


def _drive_on(given: Given, state: State, element: Element) -> Step:
    """A later round of a tightening pattern: the bit goes to a screw that is in its thread already."""
    mate = given.project.product.mate(element.mate)
    if mate.tool is None:
        raise ChainError(f"element {element.id!r}", f"mate {mate.name!r} to name its tool", "none")
    tool = given.project.cell.tool(mate.tool)
    pose, grasp = given.poses.get(element.id), state.hands[element.hand].grasp
    if pose is None or grasp is None:
        return state, ()
    state = _carry_tool(given, state, element.hand, tool.name, pose @ grasp.T_grip_part.matrix)
    first = mate.pairs[0]
    goal = fixed_frame(state, given.project.product, first.fixed_part, first.fixed, element.id)
    shift = state.taken_back.get(mate.name)
    if shift is not None:
        # What touches have shown of this mate holds for every round: the hand's targets stay moved.
        state = take_back(state, tool.name, goal, shift, element.id)
    return state, _bit_goes(given, state, element, tool, goal)


def _bit_goes(
    given: Given, state: State, element: Element, tool: Tool, goal: Array | None = None
) -> tuple[Taken, ...]:
    pair = bit_over_socket(given, state, tool, element.object, element.id, goal)
    return () if pair is None else (Taken(element.mate, pair),)


def _drive(given: Given, state: State, element: Element) -> Step:
    mate = given.project.product.mate(element.mate)
    parent = state.parents[mate.part]
    if not parent.parent.startswith("tool."):
        raise ChainError(
            f"element {element.id!r}", f"{mate.part!r} on the bit of a tool", repr(parent.parent)
        )
    tool = given.project.cell.tool(parent.parent.removeprefix("tool."))
    at_mouth, home = entry_and_home(given, state, mate, element.id)
    T_world_tool = at_mouth @ se3.inverse(tool.bit.matrix @ parent.pose.matrix)
    grasp = state.hands[element.hand].grasp
    if grasp is None:
        raise ChainError(f"element {element.id!r}", f"hand {element.hand!r} to hold {tool.name!r}", "nothing")
    T_world_grip = T_world_tool @ se3.inverse(grasp.T_grip_part.matrix)
    seen = given.poses.get(element.id)
    if seen is not None:
        # The screw turns on its way home, the hand does not: the hand's roll is the one it was planned with.
        first = mate.pairs[0]
        axis = fixed_frame(state, given.project.product, first.fixed_part, first.fixed, element.id)
        T_world_grip = rolled_to(T_world_grip, seen, axis)
        T_world_tool = T_world_grip @ grasp.T_grip_part.matrix
    push = NO_LOAD
    if isinstance(element.strategy, BackTurn):
        T_world_bit = T_world_tool @ tool.bit.matrix
        push = pressing(T_world_bit[:3, 3], -element.strategy.force * T_world_bit[:3, 2])
    state = _carry_tool(given, state, element.hand, tool.name, T_world_tool, push)
    state, entry = enter(given, state, mate, element.id, T_world_grip, grasp.slip_force)
    state, entry = go_home(given, state, entry, home)
    return state, (entered_by(entry, element.strategy),)


def _carry_tool(
    given: Given, state: State, arm: str, tool: str, T_world_tool: Array, push: Wrench = NO_LOAD
) -> State:
    grasp = state.hands[arm].grasp
    if grasp is None or grasp.item != tool:
        held = "nothing" if grasp is None else repr(grasp.item)
        raise ChainError(f"element {state.hands[arm].stop!r}", f"hand {arm!r} to hold {tool!r}", held)
    return carry(given, state, arm, T_world_tool @ se3.inverse(grasp.T_grip_part.matrix), push)


def _at_new_stop(state: State, element: Element) -> State:
    """The arm comes to rest anew: what changes per cycle is drawn again."""
    return state.with_hand(element.hand, replace(state.hands[element.hand], stop=element.id))


_STEPS: dict[str, Callable[[Given, State, Element], Step]] = {
    "search": _search,
    "reach": _move,
    "move": _move,
    "position": _move,
    "grasp": _grasp,
    "release": _release,
    "locate": _locate,
    "assemble": _assemble,
    "use": _use,
}
