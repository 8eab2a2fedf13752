"""An element begins, or its jaws have closed: against how things stand."""

from __future__ import annotations

from handfast.model.element import Element
from handfast.model.proof import Violation
from handfast.proof.doing import drives
from handfast.proof.driving import set_bit
from handfast.proof.grasp_checks import check_grasp
from handfast.proof.mate_checks import check_order
from handfast.proof.motion_checks import line_of
from handfast.proof.replay_state import Outcome, Replay, in_hand, made
from handfast.proof.round_checks import check_due
from handfast.proof.rounds import pattern_of
from handfast.proof.standing import Hold, Standing, grip_pose, relative


def begins(replay: Replay, standing: Standing, element: Element) -> Outcome:
    """An element begins: what it works with has to be in the hand, and its mate has to be due."""
    found: list[Violation] = []
    time = element.start_s
    needs_hold = element.kind in ("position", "assemble", "locate", "hold", "release") or (
        element.kind == "move" and element.object in standing.parents
    )
    if needs_hold and not in_hand(standing, element.hand, element.object):
        held = standing.holds.get(element.hand)
        text = f"{line_of(element)}: the {element.hand} hand holds {held.item if held else 'nothing'}"
        found.append(made("not held", element, time, 0.0, text))
    if element.kind == "assemble" or drives(element):
        mate = replay.mate(element.mate)
        if mate is not None:
            found += check_order(replay.project, element, mate, standing, time)
            pattern = pattern_of(replay.project.product, mate.name)
            found += check_due(standing, element, pattern, time) if pattern and drives(element) else []
    if drives(element):
        standing, wrong = set_bit(replay, standing, element)
        found += wrong
    return standing, found


def closed(replay: Replay, standing: Standing, element: Element) -> Outcome:
    """The jaws have closed: the hand holds the item where it now is."""
    time = element.start_s + element.duration_s
    arm, item = element.hand, element.object
    gripper = next((g for g in replay.project.cell.grippers if g.arm == arm), None)
    if element.grasp is None or gripper is None or item not in standing.parents:
        text = f"{line_of(element)}: nothing the jaws could close on: no grasp, no gripper or no such item"
        return standing, [made("wrong grasp", element, time, 0.0, text)]
    if arm in standing.holds:
        text = f"{line_of(element)}: the {arm} hand already holds {standing.holds[arm].item!r}"
        return standing, [made("wrong grasp", element, time, 0.0, text)]
    T_grip_item = relative(grip_pose(replay.cell, standing, arm), replay.pose_of(standing)(item))
    found = check_grasp(element, element.grasp, gripper, replay.cell.named(item), T_grip_item)
    standing = standing.holding(arm, Hold(item, T_grip_item, element.number))
    if standing.parents[item][0].startswith("place."):
        standing = standing.placed(item, f"hand.{arm}", T_grip_item)
    return standing, found
