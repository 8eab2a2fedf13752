"""The fit between the two features of a pair, and how its clearance varies."""

from __future__ import annotations

import math

from handfast.checking import fit_of_pair as drawn
from handfast.model.feature import Feature
from handfast.model.fit import Fit
from handfast.model.mate import FeaturePair, Mate
from handfast.model.product import Product
from handfast.uncertainty.refusal import BudgetError

# A size is normal about the middle of its tolerance, limits at three sigma (common practice, no source).
_SIGMAS = 6.0


def hole_and_shaft(product: Product, mate: Mate, pair: FeaturePair) -> tuple[Feature, Feature] | None:
    """The hole and the shaft of a pair, whichever of them moves; None if it is no hole with a shaft."""
    moving = product.part(mate.part).feature(pair.moving)
    fixed = product.part(pair.fixed_part).feature(pair.fixed)
    for hole, shaft in ((moving, fixed), (fixed, moving)):
        if hole.kind == "hole" and shaft.kind == "shaft":
            return hole, shaft
    return None


def fit_of_pair(hole: Feature, shaft: Feature) -> Fit:
    """Clearance of the pair; a diameter without a class is taken as drawn. Raises BudgetError where it has
    none.
    """
    fit = drawn.fit_of_pair(hole, shaft)
    if fit is None:
        raise BudgetError(
            f"{hole.name} with {shaft.name}", "diameters and ISO 286 classes in the tables", "none"
        )
    return fit


def clearance_spread(hole: Feature, shaft: Feature) -> tuple[float, float]:
    """Middle and standard deviation of the diametral clearance [m]. Raises BudgetError as `fit_of_pair`."""
    fit_of_pair(hole, shaft)
    (wide, wide_sigma), (thick, thick_sigma) = _spread(hole), _spread(shaft)
    return wide - thick, math.hypot(wide_sigma, thick_sigma)


def _spread(feature: Feature) -> tuple[float, float]:
    """Middle and standard deviation of a diameter [m]: of the lot at hand, or by its tolerance."""
    lot = feature.lot
    if lot is not None and lot.mean is not None and lot.sigma is not None:
        return lot.mean, lot.sigma
    low, high = drawn.size_limits(feature) or (0.0, 0.0)
    return 0.5 * (low + high), (high - low) / _SIGMAS


def fit_name(fit: Fit) -> str:
    """As the trade writes it: "8 H7/g6"; a size without a class as "as drawn"."""
    classes = "/".join(c or "as drawn" for c in (fit.hole, fit.shaft))
    return f"{fit.nominal * 1e3:g} {classes}"
