"""A hand lets go: the item stays where the chart says, if it is there and can stay."""

from __future__ import annotations

import math

import numpy as np

from handfast.model.element import Element
from handfast.model.holder import Place
from handfast.model.scene import Attachment
from handfast.proof.at_rest import why_not_at_rest
from handfast.proof.mate_checks import check_still_held
from handfast.proof.motion_checks import line_of
from handfast.proof.replay_state import Outcome, Replay, check_stated, made
from handfast.proof.standing import Standing, parent_pose, relative
from handfast.proof.stl import Array
from handfast.proof.tolerances import PLACE_LATERAL, PLACE_TILT, POSITION
from handfast.spatial import se3


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
    found = check_stated(element, leaves, T_parent_item, time)
    why = _cannot_stay(replay, standing, leaves, T_parent_item)
    if why:
        text = f"{line_of(element)}: {item!r} cannot stay at {leaves.parent}: {why}"
        found.append(made("wrong place", element, time, 0.0, text))
    return standing.placed(item, leaves.parent, T_parent_item), found


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
    if kind == "place" and replay.project.cell.holder(name.partition(".")[0]).kind in ("set-down", "reject"):
        built_in = sorted(i for i, (parent, _) in standing.parents.items() if parent == f"part.{item}")
        if built_in:
            return f"it carries {', '.join(built_in)}, and how that would lie there is not known"
    if kind == "place":
        return _off_place(replay, item, leaves.parent, T_parent_item)
    return "" if now == leaves.parent else "only a use leaves something on a tool"


def _off_place(replay: Replay, item: str, parent: str, T_place_item: Array) -> str:
    _, holder_name, place_name = parent.split(".")
    holder = replay.project.cell.holder(holder_name)
    place = next(place for place in holder.places if place.name == place_name)
    if holder.kind == "reject":
        return _not_dropped(replay, item, place, T_place_item)
    if item not in (place.holds, place.takes) and holder.kind != "set-down":
        own = " or ".join(repr(name) for name in (place.holds, place.takes) if name is not None)
        return f"that is the place of {own or 'nothing that is built'}"
    if holder.kind == "set-down":
        return _not_set_down(replay, item, place, T_place_item)
    across = place.free[0]
    lateral = math.hypot(T_place_item[0, 3], T_place_item[1, 3])
    turned = se3.distance(T_place_item, se3.translation(0.0, 0.0, 0.0))[1]
    if lateral > across + POSITION or turned > place.slack_angle + PLACE_TILT:
        off = f"it is {1e3 * lateral:.2f} mm and {math.degrees(turned):.2f} deg off"
        return f"{off}; the slack is {1e3 * across:.2f} mm"
    height = abs(float(T_place_item[2, 3]))
    return f"it is {1e3 * height:.2f} mm above or below it" if height > PLACE_LATERAL else ""


def _not_set_down(replay: Replay, item: str, place: Place, T_place_item: Array) -> str:
    """A part may be put down on any side, turned about the vertical as it comes: its centre of mass over the
    place."""
    part = next((p for p in replay.project.product.parts if p.name == item), None)
    if part is None:
        return "only parts are set down to be grasped anew"
    centre = np.array(part.centre_of_mass)
    lateral = float(np.linalg.norm((T_place_item @ [*centre, 1.0])[:2]))
    if lateral > place.slack + POSITION:
        return f"it is {1e3 * lateral:.2f} mm off; the slack is {1e3 * place.slack:.2f} mm"
    return why_not_at_rest(replay.cell.named(item), centre, T_place_item)


def _not_dropped(replay: Replay, item: str, place: Place, T_place_item: Array) -> str:
    """A part that is let go over a reject place falls into it: its centre of mass over the place, and no
    tool."""
    part = next((p for p in replay.project.product.parts if p.name == item), None)
    if part is None:
        return "only parts are rejected"
    centre = T_place_item @ [*part.centre_of_mass, 1.0]
    lateral = math.hypot(centre[0], centre[1])
    if lateral > place.slack + POSITION:
        return f"it is {1e3 * lateral:.2f} mm aside; the slack is {1e3 * place.slack:.2f} mm"
    return "" if centre[2] > 0 else f"it is {-1e3 * centre[2]:.2f} mm below it"
