"""What the independent verifier found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ViolationKind = Literal[
    "collision",
    "limit",
    "speed",
    "jump",
    "wrong grasp",
    "wrong place",
    "order",
    "not held",
    "missing mate",
    "discontinuity",
    "time",
]


@dataclass(frozen=True, slots=True)
class Violation:
    """One thing that is wrong. element: number; time_s: in the chart; amount: depth, excess or distance in
    SI; a, b: bodies."""

    kind: ViolationKind
    element: int
    time_s: float
    amount: float
    a: str
    b: str
    text: str


@dataclass(frozen=True, slots=True)
class Contact:
    """A pair allowed to touch, why (grasp, mate, place, touch, bit, squeeze), and for how long they were
    in contact [s]."""

    a: str
    b: str
    reason: str
    duration_s: float


@dataclass(frozen=True, slots=True)
class Proof:
    """chart_sha256: what was verified; violations: all of them (empty: it holds); contacts allowed by the
    mates and grasps; smallest clearance [m] of any pair that may not touch, with the pair and element;
    configurations checked; assumptions: what was taken as it is not (a rubber ring as rigid), in words."""

    chart_sha256: str
    violations: tuple[Violation, ...]
    contacts: tuple[Contact, ...]
    smallest_clearance: float
    closest: tuple[str, str]
    closest_element: int
    configurations: int
    assumptions: tuple[str, ...] = ()

    @property
    def holds(self) -> bool:
        """True if nothing is wrong."""
        return not self.violations
