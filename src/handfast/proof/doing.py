"""A part has gone home, or a screw is on the bit."""

from __future__ import annotations

from handfast.model.element import Element
from handfast.proof.driving import driven
from handfast.proof.mate_checks import check_bit, check_home
from handfast.proof.motion_checks import line_of
from handfast.proof.replay_state import Outcome, Replay, check_stated, in_hand, in_place, made
from handfast.proof.standing import Standing, relative


def drives(element: Element) -> bool:
    """True for a use that drives a screw home, false for one that takes it up."""
    return element.kind == "use" and element.leaves is not None and element.leaves.parent.startswith("part.")


def done(replay: Replay, standing: Standing, element: Element) -> Outcome:
    """An assemble or a use has ended: the part is home, or the screw is on the bit."""
    time = element.start_s + element.duration_s
    if element.kind == "use" and not drives(element):
        return _taken_up(replay, standing, element, time)
    mate = replay.mate(element.mate)
    if mate is None or mate.part not in (element.object, element.leaves.item if element.leaves else ""):
        text = f"{line_of(element)}: no mate {element.mate!r} brings {element.object!r} home"
        return standing, [made("missing mate", element, time, 0.0, text)]
    if element.kind == "use":
        return driven(replay, standing, element, mate, time)
    found = check_home(replay.project, element, mate, replay.pose_of(standing), time)
    if mate.kind == "screw":
        text = f"{line_of(element)}: mate {mate.name!r} is a screw; it needs a use that drives it"
        found.append(made("missing mate", element, time, 0.0, text))
    elif not in_hand(standing, element.hand, mate.part):
        return standing, found
    return in_place(replay, standing, mate, is_home=True), found


def _taken_up(replay: Replay, standing: Standing, element: Element, time: float) -> Outcome:
    leaves = element.leaves
    hold = standing.holds.get(element.hand)
    tool = next((t for t in replay.project.cell.tools if hold is not None and t.name == hold.item), None)
    if (
        leaves is None
        or tool is None
        or leaves.parent != f"tool.{tool.name}"
        or leaves.item not in standing.parents
    ):
        needed = "a tool in the hand and an item that it leaves on the bit are needed"
        text = f"{line_of(element)}: takes up nothing: {needed}"
        return standing, [made("not held", element, time, 0.0, text)]
    pose_of = replay.pose_of(standing)
    found = check_bit(replay.project, element, leaves.item, tool.name, pose_of, time)
    if tool.spindle.retains == "none":
        text = (
            f"{line_of(element)}: {tool.name!r} cannot carry {leaves.item!r}: nothing retains it on the bit"
        )
        found.append(made("not held", element, time, 0.0, text))
    if not standing.parents[leaves.item][0].startswith("place."):
        where = standing.parents[leaves.item][0]
        text = f"{line_of(element)}: {leaves.item!r} is at {where} and cannot be taken up there"
        found.append(made("wrong grasp", element, time, 0.0, text))
    T_bit_item = relative(pose_of(tool.name) @ tool.bit.matrix, pose_of(leaves.item))
    found += check_stated(element, leaves, T_bit_item, time)
    return standing.placed(leaves.item, leaves.parent, T_bit_item), found
