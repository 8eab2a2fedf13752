"""The probability band of an insertion: from "cannot wedge and stays below the force limit" to "stays below
it".

Below the lower end the parts go in whatever contact does; between the ends it depends on how real contact
behaves where the model says that the parts may wedge, and on where friction lies in its range. Simulated
rates lay inside this band, within a point, on four test sets. Where much of the chance sits in regimes that
planar theory does not cover, the band says that it depends on the model.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast.uncertainty.allowed_region import Disc, allowed_region, turned_rows
from handfast.uncertainty.peg_in_hole import PegInHole, Support
from handfast.uncertainty.region_probability import region_probability

Array = NDArray[np.float64]

# Tilt times radius over radial clearance above which the two sides of the tip are at clearly different
# heights when
# the chamfer ends: at 1 (45 degrees) the leading edge can reach the wall before the trailing one leaves the
# chamfer.
# Three is our own choice; no source.
STRONG_TILT = 3.0
# Share of the chance that may lie in regimes the model does not cover. Our own choice; no source.
SHARE_LIMIT = 0.01


@dataclass(frozen=True, slots=True)
class Band:
    """Chance of going in: at least `low`, at most `high`.

    uncovered: share of the chance that lies where wedging is possible or the tilt is strong; model_dependent:
    that share exceeds the limit, so contact simulation has to decide; reason: in words, empty if not.
    """

    low: float
    high: float
    model_dependent: bool
    uncovered: float
    reason: str


def block_covariance(lateral: Array, angular: Array) -> Array:
    """4 x 4 covariance from independent blocks: lateral (2, 2) [m^2] and angular (2, 2) [rad^2]."""
    covariance = np.zeros((4, 4))
    covariance[:2, :2], covariance[2:, 2:] = lateral, angular
    return covariance


def insertion_band(
    covariance: Array,
    peg: PegInHole,
    support: Support,
    friction: tuple[float, float],
    force_limit: float,
    mean: Array | None = None,
    share_limit: float = SHARE_LIMIT,
) -> Band:
    """Band for errors (ex, ey, rx, ry) [m, rad] of the tip in the hole's frame, Gaussian with `covariance`
    (4, 4).

    friction: lowest and highest mu to expect; force_limit: axial force the arm may use [N]; mean: (4,), zero
    if None. Larger friction only shrinks the region, so the low end belongs to the highest mu and the high
    end to the lowest. Raises ValueError for a friction range upside down or a covariance that is none.
    """
    smallest, greatest = friction
    if not smallest <= greatest:
        raise ValueError(f"insertion band: expected friction (low, high), found {friction}")
    easy = allowed_region(peg, support, smallest, force_limit)
    hard = allowed_region(peg, support, greatest, force_limit)
    below_limit = region_probability(covariance, hard.goes_in, mean)
    cannot_wedge = region_probability(covariance, (*hard.goes_in, hard.no_wedge), mean)
    tilted = Disc(
        "strong tilt", turned_rows(support.coupling), STRONG_TILT * peg.radial_clearance / peg.peg_radius
    )
    covered = region_probability(covariance, (*hard.goes_in, hard.no_wedge, tilted), mean)
    high = region_probability(covariance, easy.goes_in, mean)
    wedging, tilting = below_limit - cannot_wedge, cannot_wedge - covered
    return Band(
        low=cannot_wedge,
        high=max(high, cannot_wedge),
        model_dependent=below_limit - covered > share_limit,
        uncovered=below_limit - covered,
        reason=reason_of(wedging, tilting, share_limit),
    )


def mixed_band(bands: list[Band], weights: list[float], share_limit: float = SHARE_LIMIT) -> Band:
    """Band over drawn clearances: ends and uncovered share averaged with `weights`, which must sum to one."""
    if len(bands) != len(weights) or not bands or abs(sum(weights) - 1.0) > 1e-9 or min(weights) < 0.0:
        raise ValueError(f"mixed band: expected one weight per band, summing to 1, found {weights}")
    pairs = list(zip(bands, weights, strict=True))
    uncovered = sum(weight * band.uncovered for band, weight in pairs)
    worst = max(pairs, key=lambda pair: pair[1] * pair[0].uncovered)[0]
    return Band(
        low=sum(weight * band.low for band, weight in pairs),
        high=sum(weight * band.high for band, weight in pairs),
        model_dependent=uncovered > share_limit,
        uncovered=uncovered,
        reason=worst.reason if uncovered > share_limit else "",
    )


def reason_of(wedging: float, tilting: float, share_limit: float) -> str:
    """Why a band depends on the contact model, in words; "" where it does not."""
    if wedging + tilting <= share_limit:
        return ""
    if wedging >= tilting:
        return f"two-point contact above the friction cones in {wedging:.1%} of builds: the parts may wedge"
    return f"tilt large against the clearance in {tilting:.1%} of builds: the chamfer's exit is not planar"
