"""Where a part that is about to go home is held, and what stands around it that it could touch, as the
chart has it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.mates.home import motion_axis
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.model.project import Project
from handfast.model.scene import Attachment, Scene
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.uncertainty.touch_candidates import Held, Target


@dataclass(frozen=True, eq=False, slots=True)
class Before:
    """Just before a part goes home: the element that takes it there; the scene; how each hand holds what
    it holds.
    """

    element: Element
    scene: Scene
    grasps: dict[str, Grasp]


def before_home(chart: Chart, mate: Mate) -> Before | None:
    """None if the chart never brings the part home."""
    scene, grasps = chart.start, dict[str, Grasp]()
    for element in chart.elements:
        if element.mate == mate.name and _brings_home(element, mate):
            return Before(element, scene, grasps)
        if element.grasp is not None:
            grasps[element.hand] = element.grasp
            scene = scene.moved(
                Attachment(element.grasp.item, f"hand.{element.hand}", element.grasp.T_grip_part)
            )
        if element.leaves is not None and not element.leaves.parent.startswith("hand."):
            scene = scene.moved(element.leaves)
    return None


def _brings_home(element: Element, mate: Mate) -> bool:
    if element.kind == "assemble":
        return element.object == mate.part
    return (
        element.kind == "use" and element.leaves is not None and element.leaves.parent == f"part.{mate.into}"
    )


def held_before(project: Project, chart: Chart, mate: Mate, before: Before, rotation: Array) -> Held | None:
    """None if nobody holds the part, or the chart does not say where it is left.

    rotation (3, 3): covariance of the part's rotation in the frame of the feature it goes to first [rad^2].
    """
    home = _home(project, chart, mate, before.scene)
    there = before.scene.of(mate.part)
    kind, _, name = there.parent.partition(".")
    hand = before.element.hand
    grasp = before.grasps.get(hand)
    if home is None or grasp is None:
        return None
    if kind == "tool" and grasp.item == name:
        T_grip_part = grasp.T_grip_part.matrix @ project.cell.tool(name).bit.matrix @ there.pose.matrix
    elif kind == "hand" and grasp.item == mate.part:
        T_grip_part = grasp.T_grip_part.matrix
    else:
        return None
    part = project.product.part(mate.part)
    axis = home[:3, :3] @ motion_axis(project.product, mate)
    first = mate.pairs[0]
    T_world_into = standing_pose(project, before.scene, first.fixed_part)
    if T_world_into is None:
        return None
    fixed = project.product.part(first.fixed_part).feature(first.fixed).frame.matrix
    to_part = home[:3, :3].T @ (T_world_into @ fixed)[:3, :3]
    return Held(part, home, axis, hand, grasp, se3.inverse(T_grip_part), to_part @ rotation @ to_part.T)


def targets_of(project: Project, mate: Mate, scene: Scene) -> list[Target]:
    """Faces of the parts that the mate's part goes to, and of those they sit in, where they stand still and
    touching is not forbidden.
    """
    out = []
    goes_to = (mate.into, *(pair.fixed_part for pair in mate.pairs))
    for name in dict.fromkeys(part for first in goes_to for part in _joined(scene, first)):
        T_world_part = standing_pose(project, scene, name)
        if T_world_part is None:
            continue
        for feature in project.product.part(name).features:
            if feature.kind == "face" and (name, feature.name) not in mate.untouchable:
                out.append(Target(name, feature, T_world_part @ feature.frame.matrix))
    return out


def _joined(scene: Scene, part: str) -> tuple[str, ...]:
    """A part, the part it sits in, and so on."""
    kind, _, name = scene.of(part).parent.partition(".")
    return (part, *_joined(scene, name)) if kind == "part" else (part,)


def standing_pose(project: Project, scene: Scene, item: str) -> Array | None:
    """T_world_item of what lies in a place or is joined to what does; None for what a hand or tool
    carries.
    """
    there = scene.of(item)
    kind, _, name = there.parent.partition(".")
    if kind == "part":
        parent = standing_pose(project, scene, name)
        return None if parent is None else np.asarray(parent @ there.pose.matrix)
    if kind != "place":
        return None
    holder_name, _, place_name = name.partition(".")
    holder = project.cell.holder(holder_name)
    place = next(p for p in holder.places if p.name == place_name)
    return np.asarray(holder.pose.matrix @ place.pose.matrix @ there.pose.matrix)


def _home(project: Project, chart: Chart, mate: Mate, scene: Scene) -> Array | None:
    """T_world_part where the chart leaves the part."""
    for element in chart.elements:
        leaves = element.leaves
        if leaves is not None and leaves.item == mate.part and leaves.parent == f"part.{mate.into}":
            into = standing_pose(project, scene, mate.into)
            return None if into is None else np.asarray(into @ leaves.pose.matrix)
    return None
