"""A screw is driven: home in one go, or through one round of its pattern."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from handfast.model.element import Element
from handfast.model.mate import Mate
from handfast.model.proof import Violation
from handfast.proof.mate_checks import check_bit, check_home, check_tool, check_torque, tool_in_hand
from handfast.proof.mate_corridor import mate_corridor
from handfast.proof.motion_checks import line_of
from handfast.proof.replay_state import Outcome, Replay, in_place, made
from handfast.proof.round_checks import check_round, check_turns, still_to_go
from handfast.proof.rounds import pattern_of, rounds_had
from handfast.proof.standing import Standing, relative
from handfast.proof.stl import Array
from handfast.proof.tolerances import ANGLE, POSITION


def driven(replay: Replay, standing: Standing, element: Element, mate: Mate, time: float) -> Outcome:
    """A use has driven a screw: home, or through one round of its pattern."""
    pattern = pattern_of(replay.project.product, mate.name)
    found = check_turns(replay, standing, element, mate, time)
    found += _leaves_it(replay, standing, element, mate, time)
    if pattern is None:
        pose_of = replay.pose_of(standing)
        found += check_home(replay.project, element, mate, pose_of, time)
        found += check_tool(replay.project, element, mate, standing, pose_of, time)
        found += check_torque(replay.project, element, mate.torque, standing, time)
        return in_place(replay, standing, mate, is_home=True), found
    found += check_round(replay, standing, element, mate, pattern, time)
    had = rounds_had(standing, mate.name) + 1
    standing = replace(standing, rounds={**standing.rounds, mate.name: had})
    return in_place(replay, standing, mate, is_home=had >= len(pattern.stages)), found


def set_bit(replay: Replay, standing: Standing, element: Element) -> Outcome:
    """A use that drives a screw begins: one that stands in its thread already goes with the bit from here."""
    mate = replay.mate(element.mate)
    if mate is None or mate.part not in standing.parents or mate.kind != "screw":
        return standing, []
    time, pose_of = element.start_s, replay.pose_of(standing)
    standing = replace(standing, begun={**standing.begun, mate.name: still_to_go(replay, standing, mate)})
    tool = tool_in_hand(replay.project, standing, element.hand)
    if tool is None or not standing.parents[mate.part][0].startswith("part."):
        return standing, []
    found = check_bit(replay.project, element, mate.part, tool.name, pose_of, time)
    if found:
        return standing, found
    T_bit_screw = relative(pose_of(tool.name) @ tool.bit.matrix, pose_of(mate.part))
    return standing.placed(mate.part, f"tool.{tool.name}", T_bit_screw), []


def _leaves_it(
    replay: Replay, standing: Standing, element: Element, mate: Mate, time: float
) -> list[Violation]:
    """What the chart says of a driven screw: in the part it goes into, as far in as it is, at any roll."""
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
    off, tilt, to_go = mate_corridor(replay.project.product, mate).offset(as_stated)
    off = math.hypot(off, to_go - still_to_go(replay, standing, mate))
    if off <= POSITION and tilt <= ANGLE:
        return []
    away = f"{1e3 * off:.3f} mm and {math.degrees(tilt):.2f} deg off where it is driven to"
    text = f"{line_of(element)}: the chart leaves {leaves.item!r} {away}"
    return [made("wrong place", element, time, off, text)]
