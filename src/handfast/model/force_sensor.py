"""A force sensor at an arm's wrist."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ForceSensor:
    """arm: which carries it; range, noise (one sigma), drift per minute [N]; rate [1/s]."""

    name: str
    arm: str
    range: float
    noise: float
    drift: float
    rate: float
