"""Measuring while a chart is run: the same thing several times, so that its spread shows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.execution.handling import grasp_again
from handfast.execution.run_state import RunState
from handfast.execution.touching import locate
from handfast.model.element import Element


@dataclass(frozen=True, slots=True)
class Repeats:
    """How often each is done in all. grasp: closing on a part in its place; touch; look: finding a part by
    camera; force: readings of each sensor at rest, `apart` [s] from each other."""

    grasp: int = 20
    touch: int = 30
    look: int = 20
    force: int = 60
    apart: float = 5.0


def before_all(run: RunState, repeats: Repeats, element: Element) -> None:
    """Force sensors at rest, hands empty."""
    arms = [sensor.arm for sensor in run.project.cell.force_sensors]
    for arm in arms:
        run.cell.zero_force(arm)
    for _ in range(repeats.force):
        run.cell.pause(repeats.apart)
        for arm in arms:
            x, y, z = run.cell.force(arm)
            run.journal.note(element, "force", arm, x=x, y=y, z=z)


def before(run: RunState, repeats: Repeats, element: Element) -> None:
    """What is repeated before the element itself is carried out."""
    if _picks(run, element):
        for _ in range(repeats.look - 1):
            seen = run.cell.locate(element.object, element.target)
            if seen is not None:
                run.journal.note(element, "seen", pose=seen)
    if element.kind == "locate" and _returns(element):
        for _ in range(repeats.touch - 1):
            locate(run, element)


def behind(run: RunState, repeats: Repeats, element: Element) -> None:
    """What is repeated once the element is done."""
    if element.kind == "grasp" and element.target.startswith("place."):
        for _ in range(repeats.grasp - 1):
            grasp_again(run, element)


def _picks(run: RunState, element: Element) -> bool:
    parts = {p.name for p in run.project.product.parts}
    return element.kind == "reach" and element.target.startswith("place.") and element.object in parts


def _returns(element: Element) -> bool:
    """Whether a touch ends where it begins, so that it can be made again."""
    first, last = np.array(element.motions[0].q[0]), np.array(element.motions[-1].q[-1])
    return bool(np.abs(first - last).max() < 1e-9)
