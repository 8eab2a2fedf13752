"""The fit between the two features of a pair."""

from __future__ import annotations

from handfast.model.feature import Feature
from handfast.model.fit import Fit
from handfast.model.mate import FeaturePair, Mate
from handfast.model.product import Product
from handfast.standards import limits_and_fits
from handfast.uncertainty.refusal import BudgetError


def hole_and_shaft(product: Product, mate: Mate, pair: FeaturePair) -> tuple[Feature, Feature] | None:
    """The hole and the shaft of a pair, whichever of them moves; None if it is no hole with a shaft."""
    moving = product.part(mate.part).feature(pair.moving)
    fixed = product.part(pair.fixed_part).feature(pair.fixed)
    for hole, shaft in ((moving, fixed), (fixed, moving)):
        if hole.kind == "hole" and shaft.kind == "shaft":
            return hole, shaft
    return None


def fit_of_pair(hole: Feature, shaft: Feature) -> Fit:
    """Clearance of the pair from the ISO 286 classes; a diameter without a class is taken as it is drawn.

    Raises BudgetError for a feature without a diameter, TabledValueError for a class outside the tables.
    """
    hole_low, hole_high = _limits_of_size(hole)
    shaft_low, shaft_high = _limits_of_size(shaft)
    return Fit(
        nominal=_diameter(hole),
        hole=hole.fit or "",
        shaft=shaft.fit or "",
        clearance_min=hole_low - shaft_high,
        clearance_max=hole_high - shaft_low,
    )


def fit_name(fit: Fit) -> str:
    """As the trade writes it: "8 H7/g6"; sizes without a class as "8 mm hole"."""
    classes = "/".join(c or "as drawn" for c in (fit.hole, fit.shaft))
    return f"{fit.nominal * 1e3:g} {classes}"


def _diameter(feature: Feature) -> float:
    if feature.diameter is None:
        raise BudgetError(f"feature {feature.name!r}", "a diameter", "none", "write `diameter: 8 mm`")
    return feature.diameter


def _limits_of_size(feature: Feature) -> tuple[float, float]:
    diameter = _diameter(feature)
    if feature.fit is None:
        return diameter, diameter
    limits = limits_and_fits.limits(diameter, feature.fit)
    return limits.lower, limits.upper
