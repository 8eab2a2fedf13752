"""Pose accuracy and repeatability of a robot after ISO 9283, and what a data sheet's figure means per axis.

RP = mean + 3 S of the distances of the attained positions from their barycentre. For independent equal errors
sigma on three axes the distance is Maxwell distributed: mean 2 sigma sqrt(2/pi), standard deviation sigma
sqrt(3 - 8/pi), hence RP = 3.616 sigma: a data-sheet RP is *not* three sigma of an axis. Source: ISO 9283:1998
clauses 7.2.1 and 7.2.2 (from memory); the factor is derived here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

RP_OVER_SIGMA = 2.0 * math.sqrt(2.0 / math.pi) + 3.0 * math.sqrt(3.0 - 8.0 / math.pi)


@dataclass(frozen=True, slots=True)
class PoseFigures:
    """Positioning accuracy AP and repeatability RP [m]."""

    accuracy: float
    repeatability: float


def pose_figures(attained: Sequence[Sequence[float]], commanded: Sequence[float]) -> PoseFigures:
    """AP and RP [m] from attained positions, shape (n, 3), of one commanded position, shape (3,), all [m].

    Raises ValueError for fewer than two attained positions.
    """
    if len(attained) < 2:
        raise ValueError(
            f"ISO 9283 repeatability: expected two or more attained positions, found {len(attained)}"
        )
    centre = [sum(axis) / len(attained) for axis in zip(*attained, strict=True)]
    distances = [math.dist(position, centre) for position in attained]
    mean = sum(distances) / len(distances)
    spread = math.sqrt(sum((d - mean) ** 2 for d in distances) / (len(distances) - 1))
    return PoseFigures(math.dist(centre, commanded), mean + 3.0 * spread)


def sigma_from_repeatability(repeatability: float) -> float:
    """Standard deviation per axis [m] behind a data-sheet RP [m], equal on three axes."""
    if not repeatability >= 0.0:
        raise ValueError(f"repeatability: expected zero or more, found {repeatability}")
    return repeatability / RP_OVER_SIGMA


def repeatability_from_sigma(sigma: float) -> float:
    """RP [m] of a robot with standard deviation `sigma` [m] on each of three axes."""
    return sigma * RP_OVER_SIGMA
