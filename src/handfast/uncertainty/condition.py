"""What must hold of one pair of a mate for its part to go in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from handfast.model.ledger import Band
from handfast.uncertainty.entry import Entry, PairEntry
from handfast.uncertainty.requirement import Requirement

# Where an entry lists its pairs.
Group = Literal["pairs", "passes", "over", "taken", "straight"]


@dataclass(frozen=True, eq=False, slots=True)
class Condition:
    """pair: whose deviation is asked, the one at this index of this group of its entry; name: of the two
    features; allowed [m], allowed_angle [rad]; fit, clearance [m] at least and at most; weights: of the
    sizes that the requirements' radii stand for.
    """

    pair: PairEntry
    group: Group
    index: int
    name: str
    allowed: float
    allowed_angle: float
    requirements: tuple[Requirement, ...]
    fit: str
    clearance: tuple[float, float]
    weights: tuple[float, ...] = (1.0,)


def listed(entry: Entry, group: Group) -> tuple[PairEntry, ...]:
    """The pairs of one group of an entry."""
    groups: dict[Group, tuple[PairEntry, ...]] = {
        "pairs": entry.pairs, "passes": entry.passes, "over": entry.over, "taken": entry.taken,
        "straight": entry.straight,
    }  # fmt: skip
    return groups[group]


def same_pair(entry: Entry, condition: Condition) -> PairEntry:
    """The pair of a condition in another entry of the same mate."""
    return listed(entry, condition.group)[condition.index]


def all_hold(bands: Sequence[Band]) -> Band:
    """Chance that several events all happen, whatever binds them together: Frechet's bounds (1935)."""
    missing = sum(1 - band.low for band in bands)
    return Band(
        low=max(0.0, 1 - missing),
        high=min((band.high for band in bands), default=1.0),
        model_dependent=any(band.model_dependent for band in bands),
    )
