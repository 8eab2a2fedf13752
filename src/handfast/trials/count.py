"""From builds to counts: how often each mate went in, and why not."""

from __future__ import annotations

from collections import Counter

from handfast.model.trial import Build, MateCount, MateTry, TrialReport
from handfast.standards.interval import wilson


def report(
    mates: tuple[str, ...],
    builds: tuple[Build, ...],
    *,
    chart_sha256: str,
    touches: bool,
    scale: float = 1.0,
    recover: bool = False,
    engine: bool = False,
) -> TrialReport:
    """The report over builds. mates: in the order of the chart."""
    counts = tuple(count(mate, builds) for mate in mates)
    good = sum(b.whole for b in builds)
    return TrialReport(chart_sha256, touches, builds, counts, good, scale, recover, engine)


def count(mate: str, builds: tuple[Build, ...], confidence: float = 0.95) -> MateCount:
    """One mate over builds.

    An invalid try says nothing about the mate: it is counted, but not among the tried. Nor is one in a build
    that came so far by a recovery only. The interval is (0, 1) if there was no valid try.
    """
    tries = [t for b in builds for t in _up_to_failure(b) if t.mate == mate and t.outcome != "not tried"]
    succeeded = sum(t.outcome == "ok" for t in tries)
    invalid = sum(t.outcome == "invalid" for t in tries)
    valid = len(tries) - invalid
    causes = Counter(t.cause for t in tries if t.outcome == "failed")
    interval = wilson(succeeded, valid, confidence) if valid else (0.0, 1.0)
    repeats = [r for b in builds for r in b.repeats if r.mate == mate and r.engine_outcome != "invalid"]
    alike = sum(r.outcome == r.engine_outcome for r in repeats)
    ordered = tuple(sorted(causes.items(), key=lambda c: (-c[1], c[0])))
    return MateCount(mate, valid, succeeded, invalid, interval, ordered, len(repeats), alike)


def _up_to_failure(build: Build) -> tuple[MateTry, ...]:
    """The tries of a build up to the first that failed; what came after it was recovered."""
    failed = next((i for i, t in enumerate(build.tries) if t.outcome == "failed"), len(build.tries))
    return build.tries[: failed + 1]
