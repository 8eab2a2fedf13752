"""The play of a mate's second pair, which sets the turn of its part: a source of the fit's own."""

from __future__ import annotations

import math

from handfast.model.error_source import ErrorSource
from handfast.model.feature import Feature
from handfast.model.mate import FeaturePair, Mate
from handfast.model.product import Product
from handfast.spatial import se3
from handfast.uncertainty.fit_of_pair import clearance_spread, fit_of_pair

# Nearer to the first axis a pair says little about the turn [m].
LEVER = 5e-3


def turn_edge(mate: str) -> str:
    """The edge that the play of a mate's second pair acts on."""
    return f"mate.{mate}.turn"


def turn_sources(product: Product) -> tuple[ErrorSource, ...]:
    """One source for each mate with such a pair: along x, the play across the line between the two axes [m].

    Uniform over the clearance c has the variance c^2/12; c^2 is averaged over the sizes.
    """
    out = []
    for mate in product.mates:
        pair = second_of(product, mate)
        both = None if pair is None else _fits(product, mate, pair)
        if both is not None:
            out.append(_source(mate, *both))
    return tuple(out)


def second_of(product: Product, mate: Mate) -> FeaturePair | None:
    """The first later pair of a hole or slot with a shaft that leaves clearance, beside the first."""
    if mate.kind == "screw" or _fits(product, mate, mate.pairs[0]) is None:
        return None
    at = product.part(mate.part).feature(mate.pairs[0].moving).frame.matrix
    for pair in mate.pairs[1:]:
        both = _fits(product, mate, pair)
        T = se3.inverse(at) @ product.part(mate.part).feature(pair.moving).frame.matrix
        beside = math.hypot(T[0, 3], T[1, 3]) >= LEVER and abs(T[2, 2]) > 1 - 1e-6
        if both is not None and beside and fit_of_pair(*both).clearance_max > 0:
            return pair
    return None


def _features(product: Product, mate: Mate, pair: FeaturePair) -> tuple[Feature, Feature]:
    return product.part(mate.part).feature(pair.moving), product.part(pair.fixed_part).feature(pair.fixed)


def _fits(product: Product, mate: Mate, pair: FeaturePair) -> tuple[Feature, Feature] | None:
    """Hole or slot, and shaft, of a pair."""
    moving, fixed = _features(product, mate, pair)
    for hole, shaft in ((moving, fixed), (fixed, moving)):
        if hole.kind in ("hole", "slot") and shaft.kind == "shaft":
            return hole, shaft
    return None


def _source(mate: Mate, hole: Feature, shaft: Feature) -> ErrorSource:
    middle, spread = clearance_spread(hole, shaft)
    sigma = math.hypot(max(middle, 0.0), spread) / math.sqrt(12)
    six = (sigma, 0.0, 0.0, 0.0, 0.0, 0.0)
    return ErrorSource(f"play of {hole.name} in {mate.name}", turn_edge(mate.name), six, "part", "uniform")
