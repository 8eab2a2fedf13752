"""One round of a tightening pattern on one screw: due, as far or as tight as it says, on its axis."""

from __future__ import annotations

import math

from handfast.model.element import Element
from handfast.model.mate import Mate
from handfast.model.proof import Violation
from handfast.model.tightening import Tightening
from handfast.proof.mate_checks import check_home, check_tool, check_torque
from handfast.proof.mate_corridor import mate_corridor
from handfast.proof.motion_checks import line_of
from handfast.proof.replay_state import Replay, made
from handfast.proof.rounds import in_words, others_first, pitch_of, rounds_had
from handfast.proof.standing import Standing
from handfast.proof.tolerances import ANGLE, POSITION, SNUG_GAP, TURN_SHARE


def check_due(standing: Standing, element: Element, pattern: Tightening, time: float) -> list[Violation]:
    """As a use begins: it has to be this screw's turn."""
    had = rounds_had(standing, element.mate)
    if had >= len(pattern.stages):
        text = f"{line_of(element)}: {element.mate!r} has had all {had} rounds of {pattern.name!r} already"
        return [made("order", element, time, 0.0, text)]
    first = others_first(standing, pattern, element.mate)
    if not first:
        return []
    what = f"{in_words(pattern, had)} on {element.mate!r}"
    text = f"{line_of(element)}: {what} comes before its turn; due is {first[0]!r}"
    return [made("order", element, time, 0.0, text)]


def check_round(
    replay: Replay, standing: Standing, element: Element, mate: Mate, pattern: Tightening, time: float
) -> list[Violation]:
    """As a use ends: tool and bit, turns or torque, and where the screw then is."""
    had = rounds_had(standing, mate.name)
    if had >= len(pattern.stages):
        return []  # said when the element began
    stage, pose_of = pattern.stages[had], replay.pose_of(standing)
    found = check_tool(replay.project, element, mate, standing, pose_of, time)
    if had == len(pattern.stages) - 1:
        found += check_torque(replay.project, element, mate.torque or stage.torque, standing, time)
        return found + check_home(replay.project, element, mate, pose_of, time)
    found += _on_axis(replay, standing, element, mate, time)
    if stage.turns is None:
        found += check_torque(replay.project, element, stage.torque, standing, time)
        return found + _bears(replay, standing, element, mate, time)
    return found + _so_many_turns(replay, standing, element, mate, pattern, time)


def still_to_go(replay: Replay, standing: Standing, mate: Mate) -> float:
    """How far a screw is before home, along its axis [m]."""
    return mate_corridor(replay.project.product, mate).offset(replay.pose_of(standing))[2]


def check_turns(
    replay: Replay, standing: Standing, element: Element, mate: Mate, time: float
) -> list[Violation]:
    """The turns that a use states, against how far the screw has gone in its thread."""
    pitch = pitch_of(replay.project.product, mate)
    if element.turns is None or pitch is None or mate.name not in standing.begun:
        return []
    went = min(standing.begun[mate.name], abs(mate.pairs[0].depth)) - still_to_go(replay, standing, mate)
    off = went - element.turns / math.tau * pitch
    if abs(off) <= POSITION:
        return []
    says = f"{element.turns / math.tau:.2f} turns of {1e3 * pitch:g} mm"
    text = f"{line_of(element)}: {mate.part!r} goes {1e3 * went:.3f} mm; that is not {says}"
    return [made("wrong place", element, time, abs(off), text)]


def _on_axis(
    replay: Replay, standing: Standing, element: Element, mate: Mate, time: float
) -> list[Violation]:
    """A screw on its way has to stand in its thread, not beyond home."""
    line = mate_corridor(replay.project.product, mate)
    off, tilt, to_go = line.offset(replay.pose_of(standing))
    if off <= POSITION and tilt <= ANGLE and to_go >= -POSITION:
        return []
    away = f"{1e3 * max(off, -to_go):.3f} mm and {math.degrees(tilt):.3f} deg off its axis or beyond home"
    text = f"{line_of(element)}: {mate.part!r} ends {away} in mate {mate.name!r}"
    return [made("wrong place", element, time, max(off, -to_go), text)]


def _bears(replay: Replay, standing: Standing, element: Element, mate: Mate, time: float) -> list[Violation]:
    """No torque without a head that bears on something."""
    to_go = still_to_go(replay, standing, mate)
    if to_go <= SNUG_GAP:
        return []
    text = f"{line_of(element)}: {mate.part!r} cannot be tight yet, {1e3 * to_go:.3f} mm before home"
    return [made("wrong place", element, time, to_go, text)]


def _so_many_turns(
    replay: Replay, standing: Standing, element: Element, mate: Mate, pattern: Tightening, time: float
) -> list[Violation]:
    """As many turns as the pattern says, to no torque, and the screw is in the thread by as many."""
    had = rounds_had(standing, mate.name)
    wanted = pattern.stages[had].turns or 0.0
    found = []
    if element.torque is not None:
        text = f"{line_of(element)}: goes to {element.torque} N m; {in_words(pattern, had)} goes to no torque"
        found.append(made("limit", element, time, 0.0, text))
    if element.turns is None or abs(element.turns - wanted) > TURN_SHARE * wanted:
        given = "no turns" if element.turns is None else f"{element.turns / math.tau:.2f} turns"
        text = f"{line_of(element)}: gives {given}; {in_words(pattern, had)} is due"
        found.append(made("limit", element, time, 0.0, text))
    pitch = pitch_of(replay.project.product, mate) or 0.0
    least = sum(stage.turns or 0.0 for stage in pattern.stages[: had + 1]) / math.tau * pitch
    deep = abs(mate.pairs[0].depth) - still_to_go(replay, standing, mate)
    if deep < least - POSITION:
        text = (
            f"{line_of(element)}: {mate.part!r} ends {1e3 * deep:.2f} mm in its thread; "
            f"{in_words(pattern, had)} wants {1e3 * least:.2f} mm"
        )
        found.append(made("wrong place", element, time, least - deep, text))
    return found
