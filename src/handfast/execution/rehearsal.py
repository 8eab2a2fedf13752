"""A chart gone through without a cell: does each element find what the ones before have left?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from handfast.execution.preconditions import broken
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.project import Project
from handfast.model.scene import Attachment, Scene


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
    project: Project, elements: tuple[Element, ...], ready: Ready, touches: bool = True
) -> tuple[Element, str] | None:
    """The first element that would not find what it needs, and what; None if all would."""
    hands = [a.name for a in project.cell.arms]
    for element in elements:
        if element.kind == "locate" and not touches:
            continue
        if element.hand not in hands:
            return element, f"there is no {element.hand} hand in this cell; there are: {', '.join(hands)}"
        if wrong := broken(element, ready.scene, dict(ready.holding), ready.done, project.product):
            return element, wrong
        ready = after(ready, element, project)
    return None
