"""Failures too rare to be seen: errors made larger until there are enough of them, and the ledger with them.

A mate that fails once in ten thousand builds is never seen to fail in a thousand, and so nothing shows
whether its prediction is right. With every error twice or three times as large it fails often; a ledger made
for the same errors has to follow.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.ledger import Band, Ledger
from handfast.model.record import Record
from handfast.model.trial import Build, MateCount, TrialReport
from handfast.workflow.make_trial import AS_IT_COMES, How, scaled_ledger, trial

SCALES = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0)
_LIKELY = 0.04  # failures that a ledger has to predict for a scale to be tried: 50 in 1250 builds
FACTOR = 2.0  # how far predicted and observed share of failures may be apart


@dataclass(frozen=True, slots=True)
class RareFailure:
    """Of one mate: at `scale` times the errors it failed in `failed` of `tried` builds that came as far;
    predicted: chance of failing, by the ledger for these errors. A scale of 0: it did not fail often enough
    at any."""

    mate: str
    scale: float
    tried: int
    failed: int
    predicted: Band

    @property
    def share(self) -> float:
        """Observed."""
        return self.failed / self.tried if self.tried else 0.0

    @property
    def agrees(self) -> bool:
        """Within a factor of two of the nearer end of the prediction."""
        low, high = self.predicted.low / FACTOR, self.predicted.high * FACTOR
        return self.scale > 0 and low <= self.share <= high


def rare_failures(
    checked: CheckedProject,
    chart: Record[Chart],
    ledger: Record[Ledger],
    *,
    failures: int,
    builds: int,
    seed: int = 0,
    touches: bool = True,
    how: How = AS_IT_COMES,
    told: Callable[[float, TrialReport], None] | None = None,
) -> tuple[RareFailure, ...]:
    """Each mate at the least scale of the errors at which it fails at least `failures` times in `builds`.

    told(scale, report): after the builds of each scale. Raises as `trial` does.
    """
    found: dict[str, RareFailure] = {}
    for scale in SCALES:
        at_scale = ledger if scale == 1.0 else scaled_ledger(checked, chart, scale)
        predicted = _predicted(at_scale.body, touches)
        wanted = [m for m, p in predicted.items() if m not in found and p.high >= _LIKELY]
        if not wanted:
            continue
        report = trial(
            checked, chart, at_scale, builds=builds, seed=seed, touches=touches, scale=scale,
            until=lambda b, w=wanted: _enough(w, b, failures), how=replace(how, kept=None),  # type: ignore[misc]
        ).body  # fmt: skip
        if told is not None:
            told(scale, report)
        for count in report.counts:
            if count.mate in predicted and count.mate not in found and _failed(count) >= failures:
                found[count.mate] = RareFailure(
                    count.mate, scale, count.tried, _failed(count), predicted[count.mate]
                )
    never = Band(0.0, 1.0, True)
    return tuple(found.get(r.mate, RareFailure(r.mate, 0.0, 0, 0, never)) for r in ledger.body.rows)


def _predicted(ledger: Ledger, touches: bool) -> dict[str, Band]:
    bands = {r.mate: r.in_order if touches else r.in_order_untouched for r in ledger.rows}
    return {m: Band(1.0 - b.high, 1.0 - b.low, b.model_dependent) for m, b in bands.items()}


def _failed(count: MateCount) -> int:
    return count.tried - count.succeeded


def _enough(wanted: list[str], builds: tuple[Build, ...], failures: int) -> bool:
    from handfast.trials.count import count

    return all(_failed(count(mate, builds)) >= failures for mate in wanted)
