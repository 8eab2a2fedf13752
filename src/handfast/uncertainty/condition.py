"""Something that must hold for a part to go in, as a chance of an error form."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from handfast.model.ledger import Band
from handfast.spatial.se3 import Array
from handfast.uncertainty.entry import Entry, PairEntry

# Where an entry lists its pairs.
Group = Literal["pairs", "passes", "over"]
# Covariance (6, 6) and mean (6,) of the deviation -> chance, and why it depends on the contact model.
BandOf = Callable[[Array, Array], tuple[Band, str]]
ChanceOf = Callable[[Array, Array], float]


@dataclass(frozen=True, eq=False, slots=True)
class Condition:
    """pair: whose deviation is asked, the one at this index of this group of its entry;
    allowed [m], allowed_angle [rad]; band: the chance; quick: its low end at the middle clearance, for
    comparisons; fit, clearance [m].
    """

    pair: PairEntry
    group: Group
    index: int
    allowed: float
    allowed_angle: float
    band: BandOf
    quick: ChanceOf
    fit: str
    clearance: tuple[float, float]


def listed(entry: Entry, group: Group) -> tuple[PairEntry, ...]:
    """The pairs of one group of an entry."""
    return {"pairs": entry.pairs, "passes": entry.passes, "over": entry.over}[group]


def all_hold(bands: Sequence[Band]) -> Band:
    """Chance that several events all happen, whatever binds them together: Frechet's bounds (1935)."""
    missing = sum(1 - band.low for band in bands)
    return Band(
        low=max(0.0, 1 - missing),
        high=min((band.high for band in bands), default=1.0),
        model_dependent=any(band.model_dependent for band in bands),
    )
