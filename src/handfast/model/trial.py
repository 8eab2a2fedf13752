"""Simulated builds with drawn errors and real contact."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Outcome = Literal["ok", "failed", "invalid", "not tried"]


@dataclass(frozen=True, slots=True)
class MateTry:
    """One mate in one build. offset: lateral distance [m] and tilt [rad] at the mouth when it went in;
    peak force [N]; penetration: deepest, share of the radial clearance (over 0.2 the try is invalid)."""

    mate: str
    outcome: Outcome
    cause: str
    offset: float
    tilt: float
    peak_force: float
    penetration: float


@dataclass(frozen=True, slots=True)
class Build:
    """One trial: its number and the mates tried in it."""

    number: int
    tries: tuple[MateTry, ...]
    duration_s: float


@dataclass(frozen=True, slots=True)
class MateCount:
    """Of one mate: tries, successes, invalid tries, Wilson interval of the success rate, failures by
    cause."""

    mate: str
    tried: int
    succeeded: int
    invalid: int
    interval: tuple[float, float]
    causes: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class TrialReport:
    """builds of one chart in one kind of cell; with_touches: whether touches were used; counts per mate."""

    chart_sha256: str
    with_touches: bool
    builds: tuple[Build, ...]
    counts: tuple[MateCount, ...]
    good_builds: int
