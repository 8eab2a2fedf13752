"""From builds to counts: how often each mate went in, and why not."""

from __future__ import annotations

from collections import Counter

from handfast.model.trial import Build, MateCount, TrialReport
from handfast.standards.interval import wilson


def report(
    mates: tuple[str, ...], builds: tuple[Build, ...], *, chart_sha256: str, touches: bool
) -> TrialReport:
    """The report over builds. mates: in the order of the chart."""
    counts = tuple(count(mate, builds) for mate in mates)
    good = sum(all(t.outcome == "ok" for t in b.tries) for b in builds)
    return TrialReport(chart_sha256, touches, builds, counts, good)


def count(mate: str, builds: tuple[Build, ...], confidence: float = 0.95) -> MateCount:
    """One mate over builds.

    An invalid try says nothing about the mate: it is counted, but not among the tried. The interval is
    (0, 1) if there was no valid try.
    """
    tries = [t for b in builds for t in b.tries if t.mate == mate and t.outcome != "not tried"]
    succeeded = sum(t.outcome == "ok" for t in tries)
    invalid = sum(t.outcome == "invalid" for t in tries)
    valid = len(tries) - invalid
    causes = Counter(t.cause for t in tries if t.outcome == "failed")
    interval = wilson(succeeded, valid, confidence) if valid else (0.0, 1.0)
    ordered = tuple(sorted(causes.items(), key=lambda c: (-c[1], c[0])))
    return MateCount(mate, valid, succeeded, invalid, interval, ordered)
