"""What begins, closes, lets go and is done: each event of the chart against how things stand, and how they
stand then."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from handfast.model.element import Element
from handfast.model.mate import Mate
from handfast.model.project import Project
from handfast.model.proof import Violation, ViolationKind
from handfast.model.scene import Attachment
from handfast.proof.bodies import CellBodies
from handfast.proof.grasp_checks import check_grasp
from handfast.proof.home import home_error, home_pose
from handfast.proof.mate_checks import check_bit, check_home, check_order, check_still_held, check_use
from handfast.proof.motion_checks import line_of
from handfast.proof.standing import Hold, Standing, grip_pose, item_pose, parent_pose, relative
from handfast.proof.stl import Array
from handfast.proof.tolerances import ANGLE, PLACE_LATERAL, PLACE_TILT, POSITION
from handfast.spatial import se3

Outcome = tuple[Standing, list[Violation]]


@dataclass(frozen=True)
class Replay:
    """What an event is checked against."""

    project: Project
    cell: CellBodies

    def pose_of(self, standing: Standing) -> Callable[[str], Array]:
        """T_world_item as things stand."""
        return lambda item: item_pose(self.project, self.cell, standing, item)

    def mate(self, name: str) -> Mate | None:
        """The mate of that name, if there is one."""
        return next((mate for mate in self.project.product.mates if mate.name == name), None)


def begins(replay: Replay, standing: Standing, element: Element) -> list[Violation]:
    """An element begins: what it works with has to be in the hand, and its mate has to be due."""
    found = []
    time = element.start_s
    needs_hold = element.kind in ("position", "assemble", "locate", "hold", "release") or (
        element.kind == "move" and element.object in standing.parents
    )
    if needs_hold and not in_hand(standing, element.hand, element.object):
        held = standing.holds.get(element.hand)
        text = f"{line_of(element)}: the {element.hand} hand holds {held.item if held else 'nothing'}"
        found.append(made("not held", element, time, 0.0, text))
    if element.kind == "assemble" or _drives(element):
        mate = replay.mate(element.mate)
        if mate is not None:
            found += check_order(replay.project, element, mate, standing, time)
    return found


def in_hand(standing: Standing, arm: str, item: str) -> bool:
    """True if the hand holds the item, or the tool whose bit carries it."""
    hold = standing.holds.get(arm)
    if hold is None or item not in standing.parents:
        return False
    return hold.item == item or standing.parents[item][0] == f"tool.{hold.item}"


def _drives(element: Element) -> bool:
    return element.kind == "use" and element.leaves is not None and element.leaves.parent.startswith("part.")


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


def let_go(replay: Replay, standing: Standing, element: Element) -> Outcome:
    """The jaws begin to open: the item stays where `leaves` says, if it is there and can stay."""
    time = element.start_s
    arm, item = element.hand, element.object
    hold = standing.holds.get(arm)
    if hold is None or hold.item != item:
        return standing, []  # said when the element began
    standing = standing.holding(arm, None)
    if element.leaves is None or element.leaves.item != item:
        text = f"{line_of(element)}: does not say where {item!r} is left"
        return standing, [made("wrong place", element, time, 0.0, text)]
    standing, found = _left(replay, standing, element, element.leaves)
    return standing, found + check_still_held(replay.project, element, standing, time)


def _left(replay: Replay, standing: Standing, element: Element, leaves: Attachment) -> Outcome:
    time, item = element.start_s, leaves.item
    try:
        T_world_parent = parent_pose(replay.project, replay.cell, standing, leaves.parent)
    except (KeyError, ValueError) as error:
        text = f"{line_of(element)}: leaves {item!r} at {leaves.parent!r}: {error.args[0]}"
        return standing, [made("wrong place", element, time, 0.0, text)]
    T_parent_item = relative(T_world_parent, replay.pose_of(standing)(item))
    found = _stated(element, leaves, T_parent_item, time)
    why = _cannot_stay(replay, standing, leaves, T_parent_item)
    if why:
        text = f"{line_of(element)}: {item!r} cannot stay at {leaves.parent}: {why}"
        found.append(made("wrong place", element, time, 0.0, text))
    return standing.placed(item, leaves.parent, T_parent_item), found


def _stated(element: Element, leaves: Attachment, T_parent_item: Array, time: float) -> list[Violation]:
    off, turned = se3.distance(leaves.pose.matrix, T_parent_item)
    if off <= POSITION and turned <= ANGLE:
        return []
    text = (
        f"{line_of(element)}: {leaves.item!r} is {1e3 * off:.3f} mm and {math.degrees(turned):.2f} deg off "
        f"where the chart says it is left ({leaves.parent})"
    )
    return [made("wrong place", element, time, off, text)]


def _cannot_stay(replay: Replay, standing: Standing, leaves: Attachment, T_parent_item: Array) -> str:
    """Why an item that is let go does not stay where it is, or nothing."""
    item = leaves.item
    kind, _, name = leaves.parent.partition(".")
    now = standing.parents[item][0]
    if now.startswith(("part.", "tool.")) and now != leaves.parent:
        return f"it is at {now}"
    if kind == "hand":
        return "" if name in standing.holders_of(item) else f"the {name} hand does not hold it"
    if kind == "part":
        return "" if now == leaves.parent else f"no mate has brought it into {name!r}"
    if kind == "place":
        return _off_place(replay.project, item, leaves.parent, T_parent_item)
    return "" if now == leaves.parent else "only a use leaves something on a tool"


def _off_place(project: Project, item: str, parent: str, T_place_item: Array) -> str:
    _, holder_name, place_name = parent.split(".")
    holder = project.cell.holder(holder_name)
    place = next(place for place in holder.places if place.name == place_name)
    if place.holds != item and holder.kind != "set-down":
        return f"that is the place of {place.holds!r}"
    lateral = math.hypot(T_place_item[0, 3], T_place_item[1, 3])
    turned = se3.distance(T_place_item, se3.translation(0.0, 0.0, 0.0))[1]
    if lateral > place.slack + POSITION or turned > place.slack_angle + PLACE_TILT:
        off = f"it is {1e3 * lateral:.2f} mm and {math.degrees(turned):.2f} deg off"
        return f"{off}; the slack is {1e3 * place.slack:.2f} mm"
    height = abs(float(T_place_item[2, 3]))
    return f"it is {1e3 * height:.2f} mm above or below it" if height > PLACE_LATERAL else ""


def done(replay: Replay, standing: Standing, element: Element) -> Outcome:
    """An assemble or a use has ended: the part is home, or the screw is on the bit."""
    time = element.start_s + element.duration_s
    if element.kind == "use" and not _drives(element):
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
    found += _stated(element, leaves, T_bit_item, time)
    return standing.placed(leaves.item, leaves.parent, T_bit_item), found


def made(kind: ViolationKind, element: Element, time: float, amount: float, text: str) -> Violation:
    """A violation of an element."""
    return Violation(kind, element.number, time, amount, element.hand, element.object, text)
