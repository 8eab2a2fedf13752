"""One thing that must hold of a deviation for a part to go in: a linear map of it stays within a disc."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from handfast.spatial.se3 import Array
from handfast.uncertainty.allowed_region import Disc

# What a requirement belongs to. low: the sure end of the band; high: the other end; goes in: the sure end
# if wedging does not matter; covered: the sure end within what the contact model covers.
End = Literal["low", "goes in", "covered", "high"]
EVERY_END: frozenset[End] = frozenset({"low", "goes in", "covered", "high"})
SURE_ENDS: frozenset[End] = frozenset({"low", "goes in", "covered"})
_FREEDOMS = (0, 1, 3, 4)


@dataclass(frozen=True, eq=False, slots=True)
class Requirement:
    """|rows @ deviation| <= radius. rows (2, 6); radii (k,): one for each size the pair may have [m or rad];
    period: > 0 where only the first row counts and repeats itself [m].
    """

    name: str
    rows: Array
    radii: Array
    ends: frozenset[End] = EVERY_END
    period: float = 0.0


def from_discs(name: str, discs: list[Disc], ends: frozenset[End]) -> Requirement:
    """A disc on (ex, ey, rx, ry), one for each size; the rows are those of the middle size."""
    rows = np.zeros((2, 6))
    rows[:, _FREEDOMS] = np.array(discs[len(discs) // 2].rows)
    return Requirement(name, rows, np.array([disc.radius for disc in discs]), ends)


def across(requirement: Requirement, direction: Array, radii: Array | None = None) -> Requirement:
    """Of a requirement, only what lies along a lateral direction (2,): a slab instead of a disc."""
    rows = np.zeros((2, 6))
    rows[0] = direction @ requirement.rows
    kept = requirement.radii if radii is None else radii
    return Requirement(requirement.name, rows, kept, requirement.ends)


def lateral(name: str, radius: float, ends: frozenset[End] = EVERY_END) -> Requirement:
    """The moving axis passes the fixed plane within `radius` [m] of the fixed origin."""
    rows = np.zeros((2, 6))
    rows[0, 0] = rows[1, 1] = 1.0
    return Requirement(name, rows, np.array([radius]), ends)


def tilt(name: str, radius: float, ends: frozenset[End] = EVERY_END) -> Requirement:
    """The two axes lie within `radius` [rad] of each other."""
    rows = np.zeros((2, 6))
    rows[0, 3] = rows[1, 4] = 1.0
    return Requirement(name, rows, np.array([radius]), ends)
