"""Mates as done: at home, in order, with the tool and torque they need, and held for as long as they must
be."""

from __future__ import annotations

import math
from collections.abc import Callable

from handfast.model.element import Element
from handfast.model.mate import Mate
from handfast.model.project import Project
from handfast.model.proof import Violation, ViolationKind
from handfast.model.tool import Tool
from handfast.proof.bit_corridor import bit_offset
from handfast.proof.built_apart import due_before, why_not_standing
from handfast.proof.home import home_error, home_pose, pair_errors
from handfast.proof.motion_checks import line_of
from handfast.proof.rounds import pattern_of, retains, rounds_had
from handfast.proof.standing import Standing
from handfast.proof.stl import Array
from handfast.proof.tolerances import ANGLE, CORRIDOR, CORRIDOR_TILT, POSITION, TORQUE_SHARE

PoseOf = Callable[[str], Array]


def check_home(
    project: Project, element: Element, mate: Mate, pose_of: PoseOf, time: float
) -> list[Violation]:
    """The part against its home, and each later pair against its axis."""
    found = []
    product = project.product
    off, turned = home_error(home_pose(product, mate, pose_of), pose_of(mate.part))
    if off > POSITION or turned > ANGLE:
        text = (
            f"{line_of(element)}: {mate.part!r} ends {1e3 * off:.3f} mm and {math.degrees(turned):.3f} deg "
            f"off its home in mate {mate.name!r}"
        )
        found.append(_made("wrong place", element, time, off, text))
    for pair, off, tilt in pair_errors(product, mate, pose_of(mate.part), pose_of)[1:]:
        if off > 2 * POSITION or tilt > 2 * ANGLE:
            text = (
                f"{line_of(element)}: {mate.part}.{pair.moving} ends {1e3 * off:.3f} mm and "
                f"{math.degrees(tilt):.3f} deg off {pair.fixed_part}.{pair.fixed} in mate {mate.name!r}"
            )
            found.append(_made("wrong place", element, time, off, text))
    return found


def check_order(
    project: Project, element: Element, mate: Mate, standing: Standing, time: float
) -> list[Violation]:
    """What has to be done before a mate: its needs, what was built apart, and, where the order is given, all
    mates written before it."""
    needed = [*mate.needs, *due_before(project.product, mate)]
    if project.product.order_given:
        names = [other.name for other in project.product.mates]
        pattern = pattern_of(project.product, mate.name)
        together = pattern.screws if pattern else ()
        needed += [name for name in names[: names.index(mate.name)] if name not in together]
    found = []
    for name in dict.fromkeys(needed):
        if name not in standing.done:
            text = f"{line_of(element)}: mate {mate.name!r} is done before {name!r}, which it needs"
            found.append(_made("order", element, time, 0.0, text))
    amiss = why_not_standing(mate, standing)
    if amiss:
        found.append(_made("wrong place", element, time, 0.0, f"{line_of(element)}: {amiss}"))
    if mate.name in standing.done:
        text = f"{line_of(element)}: mate {mate.name!r} is done twice"
        found.append(_made("order", element, time, 0.0, text))
    return found


def check_tool(
    project: Project, element: Element, mate: Mate, standing: Standing, pose_of: PoseOf, time: float
) -> list[Violation]:
    """The tool with which a screw is driven, and its bit."""
    tool = tool_in_hand(project, standing, element.hand)
    if tool is None:
        text = f"{line_of(element)}: drives {mate.part!r} without a tool in the {element.hand} hand"
        return [_made("not held", element, time, 0.0, text)]
    found = []
    thread = project.product.part(mate.part).feature(mate.pairs[0].moving).thread
    if (mate.tool is not None and tool.name != mate.tool) or thread not in tool.threads:
        suits = f"{tool.name!r}, which is for {', '.join(tool.threads)}"
        text = f"{line_of(element)}: drives {mate.part!r} ({thread}) with {suits}; mate wants {mate.tool!r}"
        found.append(_made("wrong grasp", element, time, 0.0, text))
    return found + check_bit(project, element, mate.part, tool.name, pose_of, time)


def check_torque(
    project: Project, element: Element, wanted: float | None, standing: Standing, time: float
) -> list[Violation]:
    """The torque that a use states: given, the wanted one [N m], and one that the tool can give."""
    found = []
    if element.torque is None or (
        wanted is not None and abs(element.torque - wanted) > TORQUE_SHARE * wanted
    ):
        needs = f"mate {element.mate!r} needs {wanted} N m"
        text = f"{line_of(element)}: gives the torque as {element.torque} N m; {needs}"
        found.append(_made("limit", element, time, 0.0, text))
    tool = tool_in_hand(project, standing, element.hand)
    if tool is not None and element.torque is not None and element.torque > tool.spindle.torque:
        gives = f"which gives {tool.spindle.torque} N m"
        text = f"{line_of(element)}: asks {element.torque} N m of {tool.name!r}, {gives}"
        found.append(_made("limit", element, time, element.torque - tool.spindle.torque, text))
    return found


def tool_in_hand(project: Project, standing: Standing, arm: str) -> Tool | None:
    """The tool that a hand holds, if it holds one."""
    hold = standing.holds.get(arm)
    return next((tool for tool in project.cell.tools if hold and tool.name == hold.item), None)


def check_bit(
    project: Project, element: Element, part: str, tool_name: str, pose_of: PoseOf, time: float
) -> list[Violation]:
    """The bit has to stand in a socket of the screw, or at its mouth."""
    tool = project.cell.tool(tool_name)
    T_world_bit = pose_of(tool_name) @ tool.bit.matrix
    sockets = [feature for feature in project.product.part(part).features if feature.kind == "hole"]
    closest = math.inf
    for socket in sockets:
        lateral, tilt, depth = bit_offset(T_world_bit, pose_of(part) @ socket.frame.matrix)
        past = max(-depth, depth - (socket.length or 0.0), 0.0)
        if lateral <= CORRIDOR and tilt <= CORRIDOR_TILT and past <= POSITION:
            return []
        closest = min(closest, math.hypot(lateral, past))
    amount = 0.0 if math.isinf(closest) else closest
    where = f"{1e3 * closest:.2f} mm off its socket" if sockets else "which has no socket (a hole)"
    text = f"{line_of(element)}: the bit of {tool_name!r} is not at {part!r}: {where}"
    return [_made("wrong place", element, time, amount, text)]


def check_still_held(project: Project, element: Element, standing: Standing, time: float) -> list[Violation]:
    """Parts that a hand must hold until another mate retains them."""
    found = []
    for mate in project.product.mates:
        waits = (
            mate.name in standing.done
            and mate.held_until is not None
            and not retains(project.product, standing, mate.held_until)
        )
        if waits and not standing.holders_of(mate.part):
            text = (
                f"{line_of(element)}: no hand holds {mate.part!r} any more; it must be held until "
                f"{mate.held_until!r} retains it"
            )
            found.append(_made("not held", element, time, 0.0, text))
    return found


def check_all_done(
    project: Project, chart_mates: tuple[str, ...], standing: Standing, time: float
) -> list[Violation]:
    """At the end: every mate done, in the order that the chart states."""
    found = []
    for mate in project.product.mates:
        if mate.name not in standing.done:
            had, pattern = rounds_had(standing, mate.name), pattern_of(project.product, mate.name)
            why = f"no element brings {mate.part!r} home"
            if had and pattern:
                why = f"{mate.part!r} has had {had} of the {len(pattern.stages)} rounds of {pattern.name!r}"
            text = f"mate {mate.name!r} is never done: {why}"
            found.append(Violation("missing mate", 0, time, 0.0, mate.part, mate.into, text))
    if not found and chart_mates != standing.done:
        listed, order = ", ".join(chart_mates), ", ".join(standing.done)
        text = f"the chart lists its mates as {listed}; they are done as {order}"
        found.append(Violation("order", 0, time, 0.0, "", "", text))
    return found


def _made(kind: ViolationKind, element: Element, time: float, amount: float, text: str) -> Violation:
    return Violation(kind, element.number, time, amount, element.hand, element.object, text)
