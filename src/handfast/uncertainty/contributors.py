"""What a spread is made of."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from handfast.model.error_source import ErrorSource
from handfast.model.ledger import Contributor
from handfast.uncertainty.error_form import Form, by_source, covariance, mapped
from handfast.uncertainty.judge import Question
from handfast.uncertainty.sources import Sources
from handfast.uncertainty.spread import worse_axis

# Under this share of every requirement's variance, half a source gains nothing that could be told.
_TELLS = 2e-3
_GAINS = 1e-4


def contributors(form: Form, sources: Sources, gained: Mapping[str, float]) -> tuple[Contributor, ...]:
    """Sources by their share of the variance along the worse lateral axis, largest first, then by name.

    Sources are independent, so the shares sum to one; a source that enters in several places is one share,
    made of its net effect. A source that moves nothing along this axis is listed if it gains by being half
    as large. gained: by name, as `judge.gained` says.
    """
    along = mapped(worse_axis(form, sources.variances)[None, :], form)
    variances = by_source(along, sources.variances)
    total = float(covariance(along, sources.variances)[0, 0])
    places: dict[str, set[str]] = {}
    for key, where in form.places.items():
        places.setdefault(key.source, set()).update(where)
    names = variances.keys() | {n for n, g in gained.items() if g > _GAINS}
    listed = [
        _contributor(
            sources.by_name[name], variances.get(name, 0.0), total, places.get(name, set()),
            gained.get(name, 0.0),
        )
        for name in names
    ]  # fmt: skip
    return tuple(sorted(listed, key=lambda c: (-c.share, c.source)))


def worth_asking(asked: Question) -> list[str]:
    """The sources that are a noticeable part of what any requirement asks, by name."""
    squared = asked.rows**2
    total = squared.sum(axis=1, keepdims=True)
    share = (squared / np.where(total > 0, total, 1.0)).max(axis=0, initial=0.0)
    by_name: dict[str, float] = {}
    for (key, _), part in zip(asked.draws.columns, share, strict=True):
        by_name[key.source] = max(by_name.get(key.source, 0.0), float(part))
    return sorted(name for name, part in by_name.items() if part > _TELLS)


def _contributor(
    source: ErrorSource, variance: float, total: float, places: set[str], gained: float
) -> Contributor:
    return Contributor(
        source=source.name,
        share=variance / total if total > 0 else 0.0,
        sigma=variance**0.5,
        changes=source.changes,
        appearances=len(places),
        gained_if_halved=gained,
        assumed=source.assumed,
        places=tuple(sorted(places)),
    )
