"""The condition of a hole or slot with a shaft: the region of parts mating, over the sizes the fit allows.

Sizes: hole and shaft each normal about the middle of their tolerance with six sigma across it (common
practice, no source), so the clearance is normal; three Gauss-Hermite nodes stand for it. Friction: two
thirds to four thirds of the parts' own value (a choice, no source). Force: the mate's limit, or half of
what the grasp can take before it slips if that is less. The support's compliance centre is taken to lie in
the grip frame's origin. The sure end of the band asks for no possible wedging at the higher friction, the
other end only for the force limit at the lower. A slot asks across it what a hole asks all round, and along
it that the shaft comes down inside. Where a mate has several pairs, each is asked as if it went in by
itself, all with the one error of the part: what holds one pair pushes the others is not modelled.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from handfast.model.cell import Controller
from handfast.model.feature import Feature
from handfast.model.fit import Fit
from handfast.model.product import Product
from handfast.spatial.se3 import Array
from handfast.uncertainty.allowed_region import AllowedRegion, Disc, allowed_region, turned_rows
from handfast.uncertainty.band import STRONG_TILT
from handfast.uncertainty.condition import Condition
from handfast.uncertainty.entry import Entry, PairEntry
from handfast.uncertainty.fit_of_pair import clearance_spread, fit_name, fit_of_pair
from handfast.uncertainty.peg_in_hole import PegInHole, Support
from handfast.uncertainty.refusal import BudgetError
from handfast.uncertainty.requirement import EVERY_END, SURE_ENDS, Requirement, across, from_discs

# Three-point Gauss-Hermite rule for a normal distribution: offsets in sigma, weights.
_NODES = ((-math.sqrt(3.0), 1 / 6), (0.0, 2 / 3), (math.sqrt(3.0), 1 / 6))
FRICTION = (2 / 3, 4 / 3)


def fits_together(pair: PairEntry) -> bool:
    """Whether the pair is a shaft with a hole or a slot."""
    return {pair.moving.kind, pair.fixed.kind} in ({"hole", "shaft"}, {"slot", "shaft"})


def hole_first(pair: PairEntry) -> tuple[Feature, Feature]:
    """The hole or slot of a pair, and its shaft."""
    return (pair.fixed, pair.moving) if pair.moving.kind == "shaft" else (pair.moving, pair.fixed)


def insertion_condition(product: Product, controller: Controller, entry: Entry, index: int) -> Condition:
    """The condition of one pair of an entry. Raises BudgetError where the fit may have interference."""
    pair = entry.pairs[index]
    hole, shaft = hole_first(pair)
    fit = clearance_fit(entry, pair)
    pegs = [_peg(hole, shaft, pair, clearance) for clearance in clearances(hole, shaft)]
    support = Support(controller.lateral_stiffness, controller.angular_stiffness, pair.centre)
    low_mu, high_mu = _friction(product, entry, pair)
    limit = min(entry.mate.force_limit, entry.slip_force / 2)
    easy = [allowed_region(peg, support, low_mu, limit) for peg in pegs]
    hard = [allowed_region(peg, support, high_mu, limit) for peg in pegs]
    round_ones = _requirements(pegs, support, easy, hard)
    return Condition(
        pair, "pairs", index, f"{pair.moving.name} with {pair.of}.{pair.fixed.name}",
        hard[0].allowed_lateral, hard[0].allowed_tilt,
        _Slot.of(pair).narrowed(round_ones) if hole.kind == "slot" else tuple(round_ones),
        fit_name(fit), (fit.clearance_min, fit.clearance_max), tuple(weight for _, weight in _NODES),
    )  # fmt: skip


def captured(product: Product, controller: Controller, entry: Entry, index: int, force: float) -> float:
    """Largest lateral error [m] with which the tip slides in under a force [N], at the tightest size and the
    most friction."""
    pair = entry.pairs[index]
    hole, shaft = hole_first(pair)
    peg = _peg(hole, shaft, pair, clearances(hole, shaft)[0])
    support = Support(controller.lateral_stiffness, controller.angular_stiffness, pair.centre)
    return allowed_region(peg, support, _friction(product, entry, pair)[1], force).capture.radius


def lead_in_height(pair: PairEntry) -> float:
    """How far the tip comes down over the lead-ins of a pair [m]."""
    chamfers = [f.chamfer for f in (pair.moving, pair.fixed) if f.chamfer is not None]
    return sum(c.width * math.tan(c.angle) for c in chamfers)


def clearance_fit(entry: Entry, pair: PairEntry) -> Fit:
    """The fit of a pair that leaves clearance. Raises BudgetError if it may not."""
    fit = fit_of_pair(*hole_first(pair))
    if fit.clearance_min <= 0:
        raise BudgetError(
            f"mate {entry.mate.name!r}, pair {pair.moving.name}", "clearance at every size",
            f"{fit.clearance_min * 1e6:.0f} to {fit.clearance_max * 1e6:.0f} um", "it has to be pressed",
        )  # fmt: skip
    return fit


def clearances(hole: Feature, shaft: Feature) -> tuple[float, ...]:
    """Diametral clearances [m] that stand for all, smallest first; their weights are CLEARANCE_WEIGHTS."""
    middle, sigma = clearance_spread(hole, shaft)
    return tuple(middle + z * sigma for z, _ in _NODES)


CLEARANCE_WEIGHTS = tuple(weight for _, weight in _NODES)


def _requirements(
    pegs: list[PegInHole], support: Support, easy: list[AllowedRegion], hard: list[AllowedRegion]
) -> list[Requirement]:
    middle = pegs[len(pegs) // 2]
    strong = STRONG_TILT * middle.radial_clearance / middle.peg_radius
    tilted = Disc("strong tilt", turned_rows(support.coupling), strong)
    return [
        from_discs("capture", [r.capture for r in hard], SURE_ENDS),
        from_discs("force", [r.force for r in hard], SURE_ENDS),
        from_discs("entry", [r.entry for r in hard], EVERY_END),
        from_discs("no wedging", [r.no_wedge for r in hard], frozenset({"low", "covered"})),
        from_discs("planar", [tilted] * len(pegs), frozenset({"covered"})),
        from_discs("capture at least friction", [r.capture for r in easy], frozenset({"high"})),
        from_discs("force at least friction", [r.force for r in easy], frozenset({"high"})),
    ]


@dataclass(frozen=True, eq=False, slots=True)
class _Slot:
    """along, across: unit (2,) in the fixed feature's frame; room [m]: how far the shaft may lie off along
    it before it meets an end, lead-in taken in."""

    along: Array
    across: Array
    room: float

    @staticmethod
    def of(pair: PairEntry) -> _Slot:
        slot, shaft = hole_first(pair)
        axes = np.eye(3) if slot is pair.fixed else pair.T_fixed_moving[:3, :3]
        if slot.size is None or shaft.diameter is None:
            raise BudgetError(f"slot {slot.name!r} with {shaft.name!r}", "a size and a diameter", "none")
        lead_in = sum(f.chamfer.width for f in (slot, shaft) if f.chamfer is not None)
        room = (slot.size[0] - shaft.diameter) / 2 + lead_in
        return _Slot(axes[:2, 0], axes[:2, 1], room)

    def narrowed(self, requirements: list[Requirement]) -> tuple[Requirement, ...]:
        """What the slot asks across it, and that the shaft comes down between its ends."""
        asked = [across(r, self.across) for r in requirements]
        ends = across(requirements[0], self.along, np.full(len(requirements[0].radii), self.room))
        return (*asked, Requirement("between its ends", ends.rows, ends.radii, EVERY_END))


def _peg(hole: Feature, shaft: Feature, pair: PairEntry, clearance: float) -> PegInHole:
    chamfers = [f.chamfer for f in (hole, shaft) if f.chamfer is not None]
    radius = (hole.diameter or 0.0) / 2
    depth = min(d for d in (abs(pair.depth) or None, hole.length, shaft.length) if d is not None)
    return PegInHole(
        hole_radius=radius,
        peg_radius=radius - clearance / 2,
        depth=depth,
        chamfer_width=sum(c.width for c in chamfers),
        # The steeper of two chamfers, measured from the face, is the easier one to slide down.
        chamfer_angle=min((c.angle for c in chamfers), default=math.pi / 4),
    )


def _friction(product: Product, entry: Entry, pair: PairEntry) -> tuple[float, float]:
    mean = 0.5 * (product.part(entry.mate.part).friction + product.part(pair.of).friction)
    return FRICTION[0] * mean, FRICTION[1] * mean
