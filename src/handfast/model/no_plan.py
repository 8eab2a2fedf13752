"""A "no": why there is no plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from handfast.model.change import Change

Cause = Literal[
    "out of reach",
    "no grasp",
    "jaw too narrow",
    "collision at grasp",
    "collision at mate",
    "collision on the way",
    "joint limit",
    "grip lost in handover",
    "no place to set down",
    "tool does not fit",
    "order contradicts itself",
    "hand is taken",
    "not held",
    "not found within the cap",
]


@dataclass(frozen=True, slots=True)
class CauseCount:
    """How often a cause ended a candidate; nearest: the pair or the amount that came closest to working."""

    cause: Cause
    count: int
    nearest: str = ""


@dataclass(frozen=True, slots=True)
class NoPlan:
    """mate: which could not be planned; certain: infeasible at this resolution (True) or not found within
    the caps; causes by count; change: the smallest change found that makes it feasible, in words, tried;
    "" if none was found; changes: the same as data, the smallest first; within: where it was not found, the
    caps that were reached, in words."""

    project: str
    mate: str
    certain: bool
    causes: tuple[CauseCount, ...]
    change: str = ""
    changes: tuple[Change, ...] = ()
    within: tuple[str, ...] = ()
