"""The condition of a hole with a shaft: the band of parts mating, over the sizes that the fit allows.

Sizes: hole and shaft each normal about the middle of their tolerance with six sigma across it (common
practice, no source), so the clearance is normal; three Gauss-Hermite nodes stand for it. Friction: two
thirds to four thirds of the parts' own value (a choice, no source). Force: the mate's limit, or half of
what the grasp can take before it slips if that is less. The support's compliance centre is taken to lie in
the grip frame's origin. Errors are taken as normal with the right variance, whatever their distribution:
sums of many are; one dominant uniform source is judged too pessimistically in its tails.
"""

from __future__ import annotations

import math

import numpy as np

from handfast.model import ledger
from handfast.model.cell import Controller
from handfast.model.feature import Feature
from handfast.model.product import Product
from handfast.spatial.se3 import Array
from handfast.uncertainty.allowed_region import allowed_region
from handfast.uncertainty.band import insertion_band, mixed_band
from handfast.uncertainty.condition import Condition
from handfast.uncertainty.entry import Entry, PairEntry
from handfast.uncertainty.fit_of_pair import clearance_spread, fit_name, fit_of_pair
from handfast.uncertainty.peg_in_hole import PegInHole, Support
from handfast.uncertainty.refusal import BudgetError
from handfast.uncertainty.region_probability import region_probability

_FREEDOMS = (0, 1, 3, 4)
# Three-point Gauss-Hermite rule for a normal distribution: offsets in sigma, weights.
_NODES = ((-math.sqrt(3.0), 1 / 6), (0.0, 2 / 3), (math.sqrt(3.0), 1 / 6))
_FRICTION = (2 / 3, 4 / 3)
# Enough to compare two sets of sources; both are asked along the same directions.
_QUICK_DIRECTIONS = 1024


def insertion_condition(product: Product, controller: Controller, entry: Entry, index: int) -> Condition:
    """The condition of one pair of an entry. Raises BudgetError where the fit may have interference."""
    pair = entry.pairs[index]
    moving_is_hole = pair.moving.kind == "hole"
    hole, shaft = (pair.moving, pair.fixed) if moving_is_hole else (pair.fixed, pair.moving)
    fit = fit_of_pair(hole, shaft)
    if fit.clearance_min <= 0:
        raise BudgetError(
            f"mate {entry.mate.name!r}, pair {pair.moving.name}", "clearance at every size",
            f"{fit.clearance_min * 1e6:.0f} to {fit.clearance_max * 1e6:.0f} um", "it has to be pressed",
        )  # fmt: skip
    pegs = [(_peg(hole, shaft, pair, clearance), weight) for clearance, weight in _clearances(hole, shaft)]
    support = Support(controller.lateral_stiffness, controller.angular_stiffness, entry.centre)
    low_mu, high_mu = _friction(product, entry, pair)
    limit = min(entry.mate.force_limit, entry.slip_force / 2)
    sign = -1.0 if moving_is_hole else 1.0

    def band(covariance: Array, mean: Array) -> tuple[ledger.Band, str]:
        P, m = covariance[np.ix_(_FREEDOMS, _FREEDOMS)], sign * mean[list(_FREEDOMS)]
        bands = [insertion_band(P, peg, support, (low_mu, high_mu), limit, m) for peg, _ in pegs]
        mixed = mixed_band(bands, [weight for _, weight in pegs])
        return ledger.Band(mixed.low, mixed.high, mixed.model_dependent), mixed.reason

    middle = pegs[len(pegs) // 2][0]
    region = allowed_region(middle, support, high_mu, limit)

    def quick(covariance: Array, mean: Array) -> float:
        P, m = covariance[np.ix_(_FREEDOMS, _FREEDOMS)], sign * mean[list(_FREEDOMS)]
        return region_probability(P, (*region.goes_in, region.no_wedge), m, directions=_QUICK_DIRECTIONS)

    tightest = allowed_region(pegs[0][0], support, high_mu, limit)
    return Condition(
        pair, "pairs", index, tightest.allowed_lateral, tightest.allowed_tilt, band, quick,
        fit_name(fit), (fit.clearance_min, fit.clearance_max),
    )  # fmt: skip


def _clearances(hole: Feature, shaft: Feature) -> tuple[tuple[float, float], ...]:
    """Diametral clearances [m] and their weights."""
    middle, sigma = clearance_spread(hole, shaft)
    return tuple((middle + z * sigma, weight) for z, weight in _NODES)


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
    return _FRICTION[0] * mean, _FRICTION[1] * mean
