"""One row of the fit ledger."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from handfast.model.ledger import Band, MateRow, Spread
from handfast.model.project import Project
from handfast.spatial.se3 import Array
from handfast.uncertainty.condition import Condition, all_hold, listed
from handfast.uncertainty.contributors import contributors
from handfast.uncertainty.entry import Entry
from handfast.uncertainty.error_form import Form, Instance, covariance
from handfast.uncertainty.insertion_condition import insertion_condition
from handfast.uncertainty.margin import margin_ratio
from handfast.uncertainty.refusal import BudgetError
from handfast.uncertainty.screw_condition import screw_conditions
from handfast.uncertainty.sources import Sources
from handfast.uncertainty.spread import spread_of
from handfast.uncertainty.verdict import verdict

# Records hold finite numbers: without any error the ratio would have no end.
_LARGEST_MARGIN = 1000.0


def mate_row(project: Project, sources: Sources, entry: Entry, untouched: Entry) -> MateRow:
    """The row of a mate from its entry with the touches and the one without any.

    Where several things must hold, the row shows the one least likely to; its probabilities are of all
    together. Raises BudgetError for a mate that has no budget, with the reason.
    """
    conditions = conditions_of(project, entry)
    judged = [_judged(c, c.pair.delta, sources) for c in conditions]
    bands = [band for band, _ in judged]
    worst = int(np.argmin([band.low for band in bands]))
    binding, reason = conditions[worst], judged[worst][1]
    delta, before = binding.pair.delta, _same_pair(untouched, binding)
    spread = spread_of(delta, sources.variances)

    def of_cell(instance: Instance) -> bool:
        return not sources.per_installation(instance)

    now = all_hold(bands)
    within = all_hold([_judged(c, c.pair.delta, sources, of_cell)[0] for c in conditions])
    without = all_hold([_judged(c, _same_pair(untouched, c), sources)[0] for c in conditions])
    found = contributors(delta, sources, _gain(binding, delta, sources))
    touches = tuple(update.element for update in entry.updates)
    return MateRow(
        mate=entry.mate.name,
        element=entry.element,
        fit=binding.fit,
        clearance_min=binding.clearance[0],
        clearance_max=binding.clearance[1],
        before=spread_of(before, sources.variances),
        after=spread,
        within=spread_of(delta, sources.variances, of_cell),
        between_cells=spread_of(delta, sources.variances, sources.per_installation),
        allowed=binding.allowed,
        allowed_angle=binding.allowed_angle,
        margin_ratio=_margin(binding.allowed, spread),
        probability=now,
        probability_within=within,
        probability_untouched=without,
        contributors=found,
        touches=touches,
        verdict=verdict(project.target, now, without, within, found, len(touches), reason),
    )


def conditions_of(project: Project, entry: Entry) -> tuple[Condition, ...]:
    """What must hold for this mate. Raises BudgetError with the reason where nothing is known of its kind."""
    mate = entry.mate
    if mate.kind == "screw":
        return screw_conditions(entry)
    if mate.kind not in ("insert", "seat", "press"):
        raise BudgetError(
            f"mate {mate.name!r}", "insert, seat, press or screw", mate.kind, "counts as not shown"
        )
    kinds = [{pair.moving.kind, pair.fixed.kind} for pair in entry.pairs]
    fitting = [i for i, kind in enumerate(kinds) if kind == {"hole", "shaft"}]
    if not fitting:
        raise BudgetError(f"mate {mate.name!r}", "a hole with a shaft", "none", "counts as not shown")
    return tuple(insertion_condition(project.product, project.cell.controller, entry, i) for i in fitting)


def _judged(
    condition: Condition, form: Form, sources: Sources, wanted: Callable[[Instance], bool] | None = None
) -> tuple[Band, str]:
    spread = spread_of(form, sources.variances, wanted)
    return condition.band(*_normal(spread))


def _normal(spread: Spread) -> tuple[Array, Array]:
    return np.array(spread.covariance), np.array(spread.mean)


def _margin(allowed: float, spread: Spread) -> float:
    bias = float(np.linalg.norm(spread.mean[:2]))
    return min(margin_ratio(allowed, spread.sigma_major, bias), _LARGEST_MARGIN)


def _same_pair(entry: Entry, condition: Condition) -> Form:
    return listed(entry, condition.group)[condition.index].delta


def _gain(condition: Condition, form: Form, sources: Sources) -> Callable[[Sources], float]:
    """Chance with other sources minus the chance now, the gains of the touches as they are."""
    mean = np.array(spread_of(form, sources.variances).mean)
    now = condition.quick(covariance(form, sources.variances), mean)

    def gained(halved: Sources) -> float:
        return condition.quick(covariance(form, halved.variances), mean) - now

    return gained
