"""What closing jaws may do: the part slides between them, they come down on it, or they miss it.

Slide: it lies between the open pads and within their face; the pads then push it to their middle. Catch: it
lies so far along the closing direction that a pad comes down on it, beyond half of what the jaws stand wider
than the part. Miss: the point they close on lies beside or above the face of the pads, whose half length and
half width are the room. Each a normal's tails along one axis of the jaws (evenly spread errors have shorter
tails: the sure side), the tails of two axes added. A part that its place holds fast does not slide: it stays,
and the hand bends (held_fast).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from handfast.model.chart import Chart
from handfast.model.grasp import Grasp
from handfast.model.gripper import Gripper
from handfast.model.ledger import Matrix
from handfast.uncertainty.error_form import Form, covariance
from handfast.uncertainty.instances import Variances


@dataclass(frozen=True, slots=True)
class Closing:
    """Of one grasp element: who serves which mate, and the chances of the three. before, after (3, 3) [m2]:
    covariance of where the mate's moving feature is in the hand (of a tool, its own origin), axes of the grip
    frame; bends: side force [N] at one sigma where the place holds the item fast, None where it slides."""

    element: str
    mate: str
    item: str
    slide: float
    catch: float
    miss: float
    before: Matrix = ()
    after: Matrix = ()
    bends: float | None = None


def closing(chart: Chart, element: str, gripper: Gripper, found: Form, variances: Variances) -> Closing:
    """found: twist of the item in the real jaws about the point that they close on, before they close (6)."""
    grasp, mate, stands = _opened(chart, element)
    if grasp is None:
        raise ValueError(f"element {element!r}: expected a grasp, found none")
    zone = next((z for z in gripper.zones if z.name == grasp.zone), None)
    length = gripper.finger_size[2] if zone is None else zone.end - zone.start
    width = gripper.opening[1] if stands is None else stands
    room = (gripper.finger_size[0] / 2, max((width - grasp.width) / 2, 0.0), length / 2)
    squared = covariance(found, variances)
    x, y, z = (_outside(float(found.mean[i]), math.sqrt(max(squared[i, i], 0.0)), room[i]) for i in range(3))
    miss = min(1.0, x + z)
    catch = min(1 - miss, y)
    return Closing(element, mate, grasp.item, max(0.0, 1 - miss - catch), catch, miss)


def _opened(chart: Chart, element: str) -> tuple[Grasp | None, str, float | None]:
    """The grasp of an element, its mate, and how wide the jaws stand before it [m]."""
    width: dict[str, float | None] = {}
    for e in chart.elements:
        if e.id == element:
            return e.grasp, e.mate, width.get(e.hand)
        if e.opening is not None:
            width[e.hand] = e.opening
    return None, "", None


def _outside(mean: float, sigma: float, room: float) -> float:
    """Chance that a normal lies further than `room` from zero."""
    if sigma == 0:
        return 0.0 if abs(mean) <= room else 1.0
    ends = ((room - mean) / sigma, (room + mean) / sigma)
    return sum(0.5 * math.erfc(e / math.sqrt(2)) for e in ends)
