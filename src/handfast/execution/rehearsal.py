"""A chart gone through without a cell: does each element find what the ones before have left?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from handfast.execution.preconditions import broken
from handfast.execution.rounds import Rounds
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.project import Project
from handfast.model.scene import Attachment, Scene
from handfast.spatial.se3 import Array

_AT_START = 1e-4  # a motion begins where the arm stands, an item where its place is [rad, m]


@dataclass(frozen=True, slots=True)
class Ready:
    """How everything should stand before an element. q: of each arm (n,) [rad]; widths: how wide its jaws
    stand [m]; holding: hand -> item; done: mates."""

    scene: Scene
    q: Mapping[str, tuple[float, ...]]
    widths: Mapping[str, float]
    holding: Mapping[str, str]
    done: frozenset[str] = frozenset()


def in_order(chart: Chart, first: int = 1) -> tuple[Element, ...]:
    """Elements from number `first` on, as they are carried out."""
    return tuple(
        sorted((e for e in chart.elements if e.number >= first), key=lambda e: (e.start_s, e.number))
    )


def ready_at(project: Project, chart: Chart, number: int) -> Ready:
    """How everything should stand before element `number` begins, every element before it done."""
    openings = dict(chart.start.openings)
    ready = Ready(
        chart.start,
        {a.name: a.home for a in project.cell.arms},
        {g.arm: openings.get(g.arm, g.opening[1]) for g in project.cell.grippers},
        {},
    )
    for element in in_order(chart):
        if element.number < number:
            ready = after(ready, element, project)
    return ready


def after(ready: Ready, element: Element, project: Project) -> Ready:
    """How everything stands once an element is done as planned."""
    hand, widths, holding = element.hand, dict(ready.widths), dict(ready.holding)
    scene, done, q = ready.scene, ready.done, dict(ready.q)
    if element.motions:
        q[hand] = element.motions[-1].q[-1]
    if element.opening is not None:
        widths[hand] = element.opening
    if element.kind == "grasp" and element.grasp is not None:
        widths[hand], holding[hand] = element.grasp.width, element.object
        scene = scene.moved(Attachment(element.object, f"hand.{hand}", element.grasp.T_grip_part))
    if element.kind == "release":
        holding.pop(hand, None)
    leaves = element.leaves
    if element.kind in ("release", "use") and leaves is not None and not leaves.parent.startswith("hand."):
        scene = scene.moved(leaves)
    if element.kind == "assemble" or drives(element):
        done = done | {element.mate}
    return replace(ready, scene=scene, q=q, widths=widths, holding=holding, done=done)


def drives(element: Element) -> bool:
    """Whether a `use` drives a screw, rather than taking it up."""
    return element.kind == "use" and element.leaves is not None and element.leaves.parent.startswith("part.")


def rehearse(
    project: Project, chart: Chart, elements: tuple[Element, ...], ready: Ready, touches: bool = True
) -> tuple[Element, str] | None:
    """The first element that would not find what it needs, and what; None if all would.

    elements: of the chart, in the order they are carried out, from where things stand `ready`.
    """
    hands = [a.name for a in project.cell.arms]
    if not elements:
        return None
    if wrong := starts_elsewhere(project, chart):
        return elements[0], wrong
    tightened = Rounds(project.product, in_order(chart)[: -len(elements)])
    for element in elements:
        if element.kind == "locate" and not touches:
            continue
        if element.hand not in hands:
            return element, f"there is no {element.hand} hand in this cell; there are: {', '.join(hands)}"
        wrong = (
            broken(element, ready.scene, dict(ready.holding), ready.done, project.product)
            or jumps(element, np.array(ready.q[element.hand]), skipped=not touches)
            or (tightened.due(element) if drives(element) else "")
        )
        if wrong:
            return element, wrong
        ready = after(ready, element, project)
    never = [m for m in chart.mates if m not in ready.done]
    return (elements[-1], f"{', '.join(never)} would never be done") if never else None


def jumps(element: Element, q: Array, skipped: bool = False) -> str:
    """Whether a motion would not begin where the arm then stands, q (n,); "" if all do.

    skipped: touches are left out, so the first motion may begin where one of them has ended.
    """
    for i, motion in enumerate(element.motions):
        start = np.array(motion.q[0]) if motion.q else np.zeros(0)
        if motion.arm != element.hand or start.shape != q.shape:
            return f"motion {i + 1} is of the {motion.arm} arm, with {len(start)} joints"
        apart = float(np.abs(start - q).max())
        if not apart <= _AT_START and not (skipped and i == 0):
            stands = f"from where the {element.hand} arm then stands"
            return f"motion {i + 1} starts {np.degrees(apart):.3g} deg {stands}"
        q = np.array(motion.q[-1])
    return ""


def starts_elsewhere(project: Project, chart: Chart) -> str:
    """What the chart has elsewhere at its start than the project, or turned over; "" if nothing is."""
    places = {
        place.holds: f"place.{holder.name}.{place.name}"
        for holder in project.cell.holders
        for place in holder.places
        if place.holds is not None
    }
    there = {a.item: a for a in chart.start.attachments}
    for item, place in places.items():
        found = there.get(item)
        if found is None or found.parent != place:
            return f"{item} should start at {place} and is {f'at {found.parent}' if found else 'nowhere'}"
        if np.abs(found.pose.matrix - np.eye(4)).max() > _AT_START:
            return f"{item} should start in {place} as the project has it and lies off it or turned"
    return ""
