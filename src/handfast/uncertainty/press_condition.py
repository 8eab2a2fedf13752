"""The condition of a shaft that is pressed into its hole, and the force that this takes.

Where the hand brings the part: the edge of the tip comes down within the lead-ins less half the interference;
and it leans by so little that the lead-in meets all round before the fit bites anywhere, D sin(lean) under
the height of the lead-in. Derived; how a leaning shaft rights itself or scores its hole is not modelled.

The force is that of the thick-wall formula (standards/press_fit.py) over the sizes that the fit allows, each
normal about the middle of its tolerance with six sigma across it (common practice, no source). At the sure
end friction is four thirds of the parts' own, at the other two thirds, as for insertions. A hub without a
`wall` counts as part of a large body and parts without a `modulus` as steel: both make the force the largest.
The hand gives no more than the mate's limit, or half of what its grasp can take before it slips.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from handfast.model.feature import Feature
from handfast.model.fit import Fit
from handfast.model.product import Product
from handfast.standards.press_fit import PressFit
from handfast.uncertainty.condition import Condition
from handfast.uncertainty.entry import Entry, PairEntry
from handfast.uncertainty.fit_of_pair import clearance_spread, fit_name, fit_of_pair
from handfast.uncertainty.insertion_condition import FRICTION, hole_first, lead_in_height
from handfast.uncertainty.refusal import BudgetError
from handfast.uncertainty.requirement import lateral, tilt

_STEEL = 210e9


@dataclass(frozen=True, slots=True)
class PressForce:
    """middle, most [N]: of the force at the sure end, at the middle sizes and at the tightest; limit [N]:
    what the hand gives; sure, other: chance that the force stays under it, at the two ends."""

    middle: float
    most: float
    limit: float
    sure: float
    other: float


def is_pressed(entry: Entry, pair: PairEntry) -> bool:
    """Whether a hole with a shaft of a press mate may have interference."""
    hole, shaft = hole_first(pair)
    is_round = (hole.kind, shaft.kind) == ("hole", "shaft")
    return entry.mate.kind == "press" and is_round and fit_of_pair(hole, shaft).clearance_min < 0


def press_condition(entry: Entry, index: int) -> Condition:
    """Of one pair. Raises BudgetError where neither feature has a lead-in wider than the interference."""
    pair = entry.pairs[index]
    hole, shaft = hole_first(pair)
    fit = fit_of_pair(hole, shaft)
    width = sum(f.chamfer.width for f in (hole, shaft) if f.chamfer is not None)
    room = width + fit.clearance_min / 2
    if room <= 0:
        raise BudgetError(
            f"mate {entry.mate.name!r}, pair {pair.moving.name}",
            "a lead-in wider than half the interference",
            f"{width * 1e3:.2f} mm for {-fit.clearance_min * 1e6:.0f} um",
            "give the tip or the hole a chamfer",
        )  # fmt: skip
    lean = math.asin(min(1.0, lead_in_height(pair) / (hole.diameter or math.inf)))
    asked = (lateral("capture", room), tilt("all round in the lead-in", lean))
    return Condition(
        pair, "pairs", index, f"{pair.moving.name} with {pair.of}.{pair.fixed.name}", room, lean, asked,
        fit_name(fit), (fit.clearance_min, fit.clearance_max),
    )  # fmt: skip


def press_force(product: Product, entry: Entry) -> PressForce | None:
    """Of a mate, all its pressed pairs together; None where nothing is pressed.

    Several pairs press at once: their forces add up, each at a size of its own.
    """
    pressed = [p for p in entry.pairs if is_pressed(entry, p)]
    if not pressed:
        return None
    limit = min(entry.mate.force_limit, entry.slip_force / 2)
    found = [_of_pair(product, entry, p) for p in pressed]
    sure = _under(limit, [(f, FRICTION[1] * mu) for f, mu in found])
    other = _under(limit, [(f, FRICTION[0] * mu) for f, mu in found])
    hard = [(f, FRICTION[1] * mu) for f, mu in found]
    middle = sum(f.joint.force(f.middle, mu) for f, mu in hard)
    most = sum(f.joint.force(f.most, mu) for f, mu in hard)
    return PressForce(middle, most, limit, sure, other)


@dataclass(frozen=True, slots=True)
class _Pressed:
    """Interference of the diameters [m]: middle, sigma and most."""

    joint: PressFit
    middle: float
    sigma: float
    most: float


def _of_pair(product: Product, entry: Entry, pair: PairEntry) -> tuple[_Pressed, float]:
    hole, shaft = hole_first(pair)
    moving, fixed = product.part(entry.mate.part), product.part(pair.of)
    with_hole, with_shaft = (fixed, moving) if hole is pair.fixed else (moving, fixed)
    diameter = hole.diameter or 0.0
    joint = PressFit(
        diameter, _length(pair, hole, shaft), with_hole.modulus or _STEEL, with_shaft.modulus or _STEEL,
        math.inf if hole.wall is None else diameter + 2 * hole.wall,
    )  # fmt: skip
    middle, sigma = clearance_spread(hole, shaft)
    fit: Fit = fit_of_pair(hole, shaft)
    return _Pressed(joint, -middle, sigma, -fit.clearance_min), 0.5 * (moving.friction + fixed.friction)


def _length(pair: PairEntry, hole: Feature, shaft: Feature) -> float:
    return min(x for x in (abs(pair.depth) or None, hole.length, shaft.length) if x is not None)


def _under(limit: float, pressed: list[tuple[_Pressed, float]]) -> float:
    """Chance that the forces together stay under the limit: a sum of normals, each counted through zero."""
    each = [(p.joint.force(1.0, mu), p) for p, mu in pressed]
    mean = sum(slope * p.middle for slope, p in each)
    sigma = math.hypot(*(slope * p.sigma for slope, p in each))
    if sigma == 0:
        return 1.0 if mean <= limit else 0.0
    return 0.5 * math.erfc((mean - limit) / (sigma * math.sqrt(2)))
