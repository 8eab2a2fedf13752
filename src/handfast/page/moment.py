"""Everything in the cell at one moment of a chart, as triangles in the world."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.kinematics.chain import Chain, load_chain
from handfast.kinematics.forward import forward_links
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.gripper import Gripper
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.model.scene import Attachment, Scene
from handfast.model.shape import Box, Solid
from handfast.page.drawn_shape import corners_of, transformed
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class DrawnBody:
    """A body in the world. role: "arm", "part", "tool", "holder" or "obstacle"; corners (m, 3, 3) [m]."""

    name: str
    role: str
    corners: Array


@dataclass(frozen=True, eq=False, slots=True)
class Moment:
    """Bodies at one time, T_world_grip of each hand and T_world_item of each part and tool."""

    time_s: float
    bodies: tuple[DrawnBody, ...]
    hands: dict[str, Array]
    items: dict[str, Array]


@dataclass(frozen=True, eq=False, slots=True)
class Placed:
    """T_world_link of each arm (n + 2, 4, 4) from the root to the tip, T_world_grip of each hand,
    T_world_item of each part and tool, and how wide each hand's jaws stand [m]."""

    links: dict[str, Array]
    hands: dict[str, Array]
    items: dict[str, Array]
    widths: dict[str, float]


def moment(project: Project, chart: Chart, time_s: float) -> Moment:
    """The cell at that time. Raises ArmError or MeshError if something cannot be read."""
    chains = {arm.name: load_chain(arm, project.folder) for arm in project.cell.arms}
    at = placed(project, chart, chains, time_s)
    arms = [_arm(project, chains[arm], at.links[arm], at.hands[arm], at.widths[arm]) for arm in chains]
    bodies = [*_still(project), *arms, *_items(project, at.items)]
    return Moment(time_s, tuple(bodies), at.hands, at.items)


def placed(project: Project, chart: Chart, chains: dict[str, Chain], time_s: float) -> Placed:
    """Where everything that moves stands at that time."""
    scene = scene_at(chart, time_s)
    links = {name: forward_links(chain, joints_at(chart, chain, time_s))[0] for name, chain in chains.items()}
    hands = {arm: links[arm][-1] @ project.cell.gripper_of(arm).mount.matrix for arm in chains}
    items = {a.item: _world(project, scene, a, hands) for a in scene.attachments}
    widths = {arm: _opening(scene, project, arm) for arm in chains}
    return Placed(links, hands, items, widths)


def scene_at(chart: Chart, time_s: float) -> Scene:
    """What is attached where at that time: jaws that are still closing or opening count as not yet done."""
    scene = chart.start
    for element in sorted(chart.elements, key=lambda e: (e.start_s, e.number)):
        if _acts_at(element) > time_s + 1e-9:
            continue
        if element.opening is not None:
            scene = scene.opened(element.hand, element.opening)
        if element.grasp is not None:
            held = Attachment(element.grasp.item, f"hand.{element.hand}", element.grasp.T_grip_part)
            scene = scene.moved(held).opened(element.hand, element.grasp.width)
        if element.leaves is not None:
            scene = scene.moved(element.leaves)
    return scene


def _acts_at(element: Element) -> float:
    """When an element changes the scene [s]: a release once its jaws are open and before it leads away."""
    if element.grasp is not None or element.kind == "use":
        return element.start_s + element.duration_s
    return element.start_s + element.before_s


def joints_at(chart: Chart, chain: Chain, time_s: float) -> Array:
    """Joint angles (n,) [rad] of an arm at that time; at rest between motions."""
    q = chain.home
    for element in sorted((e for e in chart.elements if e.hand == chain.name), key=lambda e: e.start_s):
        start = element.start_s + element.before_s
        for motion in element.motions:
            if start > time_s:
                return np.asarray(q)
            q = _on(motion, time_s - start)
            start += motion.duration
    return np.asarray(q)


def _on(motion: Motion, s: float) -> Array:
    """Joint angles [rad] s seconds into a motion; its last ones after its end. Formula: model.Motion."""
    t, q, v = np.array(motion.t), np.array(motion.q), np.array(motion.v)
    if s >= t[-1]:
        return np.asarray(q[-1])
    i = max(0, int(np.searchsorted(t, s, side="right")) - 1)
    d, h = s - t[i], t[i + 1] - t[i]
    return np.asarray(q[i] + v[i] * d + (v[i + 1] - v[i]) * d * d / (2 * h))


def _world(project: Project, scene: Scene, attachment: Attachment, hands: dict[str, Array]) -> Array:
    """T_world_item through whatever it is attached to."""
    kind, _, name = attachment.parent.partition(".")
    if kind == "hand":
        parent = hands[name]
    elif kind == "place":
        holder_name, _, place_name = name.partition(".")
        holder = project.cell.holder(holder_name)
        place = next(p for p in holder.places if p.name == place_name)
        parent = holder.pose.matrix @ place.pose.matrix
    elif kind == "tool":
        parent = _world(project, scene, scene.of(name), hands) @ project.cell.tool(name).bit.matrix
    else:
        parent = _world(project, scene, scene.of(name), hands)
    return np.asarray(parent @ attachment.pose.matrix)


def _opening(scene: Scene, project: Project, arm: str) -> float:
    return dict(scene.openings).get(arm, project.cell.gripper_of(arm).opening[1])


def _still(project: Project) -> list[DrawnBody]:
    folder = project.folder
    bodies = [DrawnBody(o.name, "obstacle", corners_of(o.solids, folder)) for o in project.cell.obstacles]
    for holder in project.cell.holders:
        corners = transformed(corners_of(holder.solids, folder), holder.pose.matrix)
        bodies.append(DrawnBody(holder.name, "holder", corners))
    return bodies


def _items(project: Project, items: dict[str, Array]) -> list[DrawnBody]:
    own = [(p.name, "part", p.solids) for p in project.product.parts]
    own += [(t.name, "tool", t.solids) for t in project.cell.tools]
    return [
        DrawnBody(name, role, transformed(corners_of(solids, project.folder), items[name]))
        for name, role, solids in own
        if name in items
    ]


def _arm(project: Project, chain: Chain, links: Array, T_world_grip: Array, opening: float) -> DrawnBody:
    """Links, palm and fingers as one body. Links are numbered from -1 (root) to n (tip)."""
    gripper = project.cell.gripper_of(chain.name)
    folder = project.folder
    drawn = [transformed(corners_of((solid,), folder), links[link + 1]) for link, solid in chain.solids]
    hand = corners_of((*gripper.palm, *_fingers(gripper, opening)), folder)
    return DrawnBody(chain.name, "arm", np.concatenate([*drawn, transformed(hand, T_world_grip)]))


def _fingers(gripper: Gripper, opening: float) -> tuple[Solid, ...]:
    """Two boxes in the grip frame, pads at y = +-opening/2, reaching back from the tip."""
    x, thick, back = gripper.finger_size
    at = opening / 2 + thick / 2
    return tuple(Solid(Box((x, thick, back)), Pose((0.0, side * at, -back / 2))) for side in (-1.0, 1.0))
