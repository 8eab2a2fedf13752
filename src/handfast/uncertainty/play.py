"""The play that a clearance fit leaves a part once it is in: an error source of the fit's own making.

A shaft in a hole may lie where the clearance lets it: its axis within a disc of the radial clearance at the
mouth, and within another at its end. Where in it is said by how it was pushed (left_in_play); the source
stands for what that leaves open, with the size of a shaft that may lie anywhere: uniform over a disc of
radius R has the variance R^2/4 along each axis. R^2 is averaged over the sizes that the fit allows.
"""

from __future__ import annotations

import math

import numpy as np

from handfast.model.error_source import ErrorSource
from handfast.model.mate import FeaturePair, Mate
from handfast.model.product import Product
from handfast.spatial.se3 import Array
from handfast.uncertainty.fit_of_pair import clearance_spread, fit_of_pair, hole_and_shaft


def play_edge(mate: str) -> str:
    """The edge that the play of a mate acts on."""
    return f"mate.{mate}.play"


def play_sources(product: Product) -> tuple[ErrorSource, ...]:
    """One source for each mate whose first pair is a hole with a shaft that leaves clearance.

    Its freedoms are the offsets (x, y) [m] of the shaft's axis at the mouth, and again (as freedoms 3 and
    4) at its end.
    """
    return tuple(s for s in (_play_of(product, mate) for mate in product.mates) if s is not None)


def play_jacobian(mate: Mate, product: Product) -> Array:
    """(6, 6): play offsets to the twist of the moving feature in the fixed feature's frame.

    An insert, a press or a gear stands in its hole and tilts with its play; a seated part lies on its face
    and only shifts.
    """
    J = np.zeros((6, 6))
    J[0, 0] = J[1, 1] = 1.0
    pair = mate.pairs[0]
    # The end of the shaft lies at this z of the fixed frame; a point there moves by (ry, -rx) z.
    end = math.copysign(engaged_length(pair, mate, product), pair.depth)
    if mate.kind in ("insert", "press", "gear-mesh") and end != 0:
        J[4, 3], J[4, 0] = 1 / end, -1 / end
        J[3, 4], J[3, 1] = -1 / end, 1 / end
    return J


def play_ends(mate: Mate, product: Product) -> tuple[Array, tuple[int, ...]]:
    """(k, 6): from a twist of the moving feature in the fixed feature's frame to the offsets (x, y) of the
    shaft's axis that the fit limits, at the mouth or at mouth and end; and the freedoms of the play, as
    `play_sources` has them, that they are.
    """
    J = play_jacobian(mate, product)
    if not J[3:].any():
        return np.eye(6)[:2], (0, 1)
    ends = np.zeros((4, 6))
    ends[:2, :2] = ends[2:, :2] = np.eye(2)
    length = 1 / J[4, 3]
    ends[2, 4], ends[3, 3] = length, -length
    return ends, (0, 1, 3, 4)


def engaged_length(pair: FeaturePair, mate: Mate, product: Product) -> float:
    """How far hole and shaft of a pair overlap at home [m]."""
    found = hole_and_shaft(product, mate, pair)
    lengths = [f.length for f in found or () if f.length is not None]
    return min((abs(pair.depth), *lengths))


def _play_of(product: Product, mate: Mate) -> ErrorSource | None:
    found = hole_and_shaft(product, mate, mate.pairs[0])
    if found is None:
        return None
    fit = fit_of_pair(*found)
    if fit.clearance_max <= 0:
        return None
    middle, spread = clearance_spread(*found)
    # R/2 along each axis, R = c/2; mean of c^2 over the sizes.
    sigma = math.hypot(max(middle, 0.0), spread) / 4
    six = (sigma, sigma, 0.0, sigma, sigma, 0.0)
    return ErrorSource(f"play in {mate.name}", play_edge(mate.name), six, "part", "uniform")
