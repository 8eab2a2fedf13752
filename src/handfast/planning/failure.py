"""Why a candidate came to nothing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import TypeVar

from handfast.model.no_plan import Cause, CauseCount

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Failure:
    """cause from the closed list; what was in the way or missing; short_by: how far from working [m], smaller
    is nearer; hit: name of the body that was in the way; of: the candidate that came to nothing, which is
    counted once, however often it is looked at."""

    cause: Cause
    what: str = ""
    short_by: float = float("inf")
    hit: str = ""
    of: tuple[object, ...] = ()


def of_candidate(ways: Iterable[T | Failure], *candidate: object) -> Iterator[T | Failure]:
    """The ways to carry a candidate out; failures say which one of its ways they are about."""
    count = 0
    for way in ways:
        if isinstance(way, Failure) and not way.of:
            yield replace(way, of=(*candidate, count))
            count += 1
        else:
            yield way


def distinct(failures: Iterable[Failure]) -> list[Failure]:
    """One failure for each candidate, where things stood first; those that name none are all kept."""
    first: dict[tuple[object, ...], Failure] = {}
    for f in failures:
        first.setdefault(f.of or (id(f),), f)
    return list(first.values())


def tally(failures: list[Failure]) -> tuple[CauseCount, ...]:
    """Counts of candidates by cause, the most frequent first, each with what was most often in the way and
    how near it came to working."""
    failures = distinct(failures)
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
