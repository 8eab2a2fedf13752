"""Simulated builds with drawn errors and real contact."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Outcome = Literal["ok", "failed", "invalid", "not tried"]


@dataclass(frozen=True, slots=True)
class MateTry:
    """One mate in one build. offset: lateral distance [m] and tilt [rad] at the mouth when it went in;
    peak force [N]; penetration: deepest, share of the radial clearance (over 0.2 the try is invalid);
    steps of contact, and of these unsettled: those that ended without balance, as when a part tips over."""

    mate: str
    outcome: Outcome
    cause: str
    offset: float
    tilt: float
    peak_force: float
    penetration: float
    steps: int = 0
    unsettled: int = 0


@dataclass(frozen=True, slots=True)
class Repeat:
    """An insertion of a build, solved fast and repeated in the physics engine: both answers, causes and peak
    forces [N]. The engine's is "invalid" where its own contact was too soft to count."""

    mate: str
    outcome: Outcome
    engine_outcome: Outcome
    cause: str
    engine_cause: str
    peak_force: float
    engine_peak_force: float


@dataclass(frozen=True, slots=True)
class Build:
    """One trial: its number, the mates tried in it (the first try of each), those of them that were repeated
    in the engine, and the recoveries used, each with what it met: ("search", "did not go in"); whole: all is
    in, recoveries counted."""

    number: int
    tries: tuple[MateTry, ...]
    duration_s: float
    repeats: tuple[Repeat, ...] = ()
    recoveries: tuple[tuple[str, str], ...] = ()
    whole: bool = False


@dataclass(frozen=True, slots=True)
class MateCount:
    """Of one mate: tries, successes, invalid tries, Wilson interval of the success rate, failures by
    cause; repeated in the physics engine, and of these alike in outcome."""

    mate: str
    tried: int
    succeeded: int
    invalid: int
    interval: tuple[float, float]
    causes: tuple[tuple[str, int], ...]
    repeated: int = 0
    alike: int = 0


@dataclass(frozen=True, slots=True)
class TrialReport:
    """builds of one chart in one kind of cell; with_touches: whether touches were used; counts per mate;
    good_builds: came out whole; scale: of every error; with_recoveries: whether those of the chart were
    carried out; engine: whether every insertion was solved in the physics engine."""

    chart_sha256: str
    with_touches: bool
    builds: tuple[Build, ...]
    counts: tuple[MateCount, ...]
    good_builds: int
    scale: float = 1.0
    with_recoveries: bool = False
    engine: bool = False
