"""Why a candidate came to nothing."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from handfast.model.no_plan import Cause, CauseCount


@dataclass(frozen=True, slots=True)
class Failure:
    """cause from the closed list; what was in the way or missing; how far from working [m], smaller is nearer."""

    cause: Cause
    what: str = ""
    short_by: float = float("inf")


def tally(failures: list[Failure]) -> tuple[CauseCount, ...]:
    """Counts by cause, the most frequent first, each with the failure that came nearest to working."""
    counts = Counter(f.cause for f in failures)
    out = []
    for cause, count in counts.most_common():
        nearest = min((f for f in failures if f.cause == cause), key=lambda f: f.short_by)
        text = nearest.what
        if nearest.short_by < 1:
            text += f", short by {nearest.short_by * 1e3:.1f} mm"
        out.append(CauseCount(cause, count, text))
    return tuple(out)
