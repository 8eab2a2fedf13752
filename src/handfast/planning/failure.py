"""Why a candidate came to nothing."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from handfast.model.no_plan import Cause, CauseCount


@dataclass(frozen=True, slots=True)
class Failure:
    """cause from the closed list; what was in the way or missing; short_by: how far from working [m], smaller
    is nearer; hit: name of the body that was in the way."""

    cause: Cause
    what: str = ""
    short_by: float = float("inf")
    hit: str = ""


def tally(failures: list[Failure]) -> tuple[CauseCount, ...]:
    """Counts by cause, the most frequent first, each with what was most often in the way and how near it came
    to working."""
    counts = Counter(f.cause for f in failures)
    out = []
    for cause, count in counts.most_common():
        own = [f for f in failures if f.cause == cause]
        often = Counter(f.hit for f in own).most_common(1)[0][0]
        nearest = min((f for f in own if f.hit == often), key=lambda f: f.short_by)
        text = nearest.what
        if 0 < nearest.short_by < 10:
            text += f", short by {nearest.short_by * 1e3:.1f} mm"
        out.append(CauseCount(cause, count, text))
    return tuple(out)
