"""What a spread is made of."""

from __future__ import annotations

from collections.abc import Callable

from handfast.model.ledger import Contributor
from handfast.uncertainty.error_form import Form, covariance, mapped, only
from handfast.uncertainty.sources import Sources
from handfast.uncertainty.spread import worse_axis

# How much larger the chance of going in is if one source is half as large.
Gain = Callable[[Sources], float]


def contributors(form: Form, sources: Sources, gained: Gain) -> tuple[Contributor, ...]:
    """Sources by their share of the variance along the worse lateral axis, largest first, then by name.

    Sources are independent, so the shares sum to one; a source that enters in several places is one share,
    made of its net effect. gained: the chance with the given sources, minus the chance now.
    """
    along = mapped(worse_axis(form, sources.variances)[None, :], form)
    total = float(covariance(along, sources.variances)[0, 0])
    names = sorted({k.source for k in along.jacobians})
    listed = [_contributor(form, along, total, name, sources, gained) for name in names]
    return tuple(sorted(listed, key=lambda c: (-c.share, c.source)))


def _contributor(
    form: Form, along: Form, total: float, name: str, sources: Sources, gained: Gain
) -> Contributor:
    source = sources.by_name[name]
    variance = float(covariance(only(along, lambda k: k.source == name), sources.variances)[0, 0])
    places = frozenset(p for k, where in form.places.items() if k.source == name for p in where)
    return Contributor(
        source=name,
        share=variance / total if total > 0 else 0.0,
        sigma=variance**0.5,
        changes=source.changes,
        appearances=len(places),
        gained_if_halved=gained(sources.halved(name)),
        assumed=source.assumed,
    )
