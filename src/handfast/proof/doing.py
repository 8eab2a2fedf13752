"""A part has gone home, or a screw is on the bit."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from handfast.model.element import Element
from handfast.model.mate import Mate
from handfast.model.proof import Violation
from handfast.proof.home import home_error, home_pose
from handfast.proof.mate_checks import check_bit, check_home, check_use
from handfast.proof.motion_checks import line_of
from handfast.proof.replay_state import Outcome, Replay, check_stated, in_hand, made
from handfast.proof.standing import Standing, relative
from handfast.proof.stl import Array
from handfast.proof.tolerances import ANGLE, POSITION


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
    pose_of = replay.pose_of(standing)
    found = check_home(replay.project, element, mate, pose_of, time)
    if element.kind == "use":
        found += check_use(replay.project, element, mate, standing, pose_of, time)
        found += _leaves_home(replay, standing, element, mate, time)
    elif mate.kind == "screw":
        text = f"{line_of(element)}: mate {mate.name!r} is a screw; it needs a use that drives it"
        found.append(made("missing mate", element, time, 0.0, text))
    elif not in_hand(standing, element.hand, mate.part):
        return standing, found
    T_into_part = relative(pose_of(mate.into), pose_of(mate.part))
    standing = standing.placed(mate.part, f"part.{mate.into}", T_into_part)
    if mate.name not in standing.done:
        standing = replace(standing, done=(*standing.done, mate.name))
    return standing, found


def _leaves_home(
    replay: Replay, standing: Standing, element: Element, mate: Mate, time: float
) -> list[Violation]:
    """What the chart says of a driven screw: attached to the part it goes into, at home at any roll."""
    leaves = element.leaves
    if leaves is None:
        return []
    pose_of = replay.pose_of(standing)
    if leaves.parent != f"part.{mate.into}":
        goes = f"mate {mate.name!r} goes into {mate.into!r}"
        text = f"{line_of(element)}: leaves {leaves.item!r} at {leaves.parent}; {goes}"
        return [made("wrong place", element, time, 0.0, text)]
    stated = pose_of(mate.into) @ leaves.pose.matrix
    as_stated: Callable[[str], Array] = lambda item: stated if item == mate.part else pose_of(item)  # noqa: E731
    off, turned = home_error(home_pose(replay.project.product, mate, as_stated), stated)
    if off <= POSITION and turned <= ANGLE:
        return []
    away = f"{1e3 * off:.3f} mm and {math.degrees(turned):.2f} deg off home"
    text = f"{line_of(element)}: the chart leaves {leaves.item!r} {away}"
    return [made("wrong place", element, time, off, text)]


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
