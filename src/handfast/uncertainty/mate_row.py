"""One row of the fit ledger."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from handfast.model.ledger import Band, Limit, MateRow, PairRow, Spread
from handfast.model.project import Project
from handfast.uncertainty.after_entry import after_entry
from handfast.uncertainty.assemblable import share_of_lots, together
from handfast.uncertainty.condition import Condition, same_pair
from handfast.uncertainty.conditions_of import conditions_of
from handfast.uncertainty.contributors import contributors, worth_asking
from handfast.uncertainty.entered_by import entered_by
from handfast.uncertainty.entry import Entry
from handfast.uncertainty.error_form import covariance
from handfast.uncertainty.instances import Instance
from handfast.uncertainty.joint_builds import Asked
from handfast.uncertainty.judge import Flags, Judgement, Question, gained, judge, question
from handfast.uncertainty.margin import margin_ratio
from handfast.uncertainty.outcomes import at_most, besides, jaws, outcomes, pressing, with_besides
from handfast.uncertainty.requirement import Requirement
from handfast.uncertainty.sources import Sources
from handfast.uncertainty.spread import spread_of
from handfast.uncertainty.strategies import strategies
from handfast.uncertainty.verdict import verdict

# Records hold finite numbers: without any error the ratio would have no end.
_LARGEST_MARGIN = 1000.0


@dataclass(frozen=True, eq=False, slots=True)
class Row:
    """A row, and what is asked of the mate in builds drawn jointly."""

    row: MateRow
    asked: Asked


def mate_row(project: Project, sources: Sources, entry: Entry, untouched: Entry) -> Row:
    """The row of a mate from its entry with the touches and the one without any.

    Where several things must hold, the row's figures are of the one least likely to; its probabilities are
    of all together. Raises BudgetError for a mate that has no budget, with the reason.
    """
    conditions = conditions_of(project, entry)
    asked = question(entry, conditions, sources)
    bare = question(untouched, conditions, sources) if entry.updates else asked
    parts = together(project.product, entry, sources)
    share = 1.0 if parts is None else share_of_lots(parts, sources)
    found = judge(asked)
    binding = conditions[int(np.argmin(found.each))]
    after = after_entry(project.product, entry)
    chance = besides(entry, after)

    def in_all(band: Band) -> Band:
        return with_besides(at_most(band, share), chance)

    now = in_all(found.band)
    within = in_all(judge(asked, _of_cell(asked, sources)).band)
    without = in_all(judge(bare).band) if entry.updates else now
    causes = contributors(binding.pair.delta, sources, gained(asked, worth_asking(asked), found.band.low))
    ways = strategies(project, entry, sources, found.band)
    row = _row(entry, untouched, sources, binding)
    row = replace(
        row,
        probability=now,
        probability_within=within,
        probability_untouched=without,
        contributors=causes,
        assemblable=share,
        probability_in_jig=with_besides(at_most(_in_jig(project, untouched, sources), share), after.good),
        prior=tuple(tuple(map(float, p)) for p in covariance(entry.raw, sources.variances)),
        strategy="straight" if entry.strategy is None else entry.strategy.name,
        pairs=_pair_rows(conditions, found, sources),
        strategies=tuple(replace(way, probability=in_all(way.probability)) for way in ways),
        outcomes=outcomes(entry, after, found.band.low * after.clean, found.placed * after.clean),
        pressing=pressing(after),
        jaws=jaws(entry),
    )
    row = replace(
        row, verdict=verdict(project.target, row, binding.name if len(conditions) > 1 else "", found.reason)
    )
    return Row(row, Asked(asked, bare, parts, entry.left, untouched.left, chance))


def _row(entry: Entry, untouched: Entry, sources: Sources, binding: Condition) -> MateRow:
    """What a row says about its least likely condition; its probabilities still to come."""

    def of_cell(instance: Instance) -> bool:
        return not sources.per_installation(instance)

    delta = binding.pair.delta
    spread = spread_of(delta, sources.variances)
    nothing = Band(0.0, 1.0, True)
    return MateRow(
        mate=entry.mate.name,
        element=entry.element,
        fit=binding.fit,
        clearance_min=binding.clearance[0],
        clearance_max=binding.clearance[1],
        before=spread_of(same_pair(untouched, binding).delta, sources.variances),
        after=spread,
        within=spread_of(delta, sources.variances, of_cell),
        between_cells=spread_of(delta, sources.variances, sources.per_installation),
        allowed=binding.allowed,
        allowed_angle=binding.allowed_angle,
        margin_ratio=_margin(binding.allowed, spread),
        probability=nothing,
        probability_within=nothing,
        probability_untouched=nothing,
        contributors=(),
        touches=tuple(update.element for update in entry.updates),
        verdict="",
    )


def _of_cell(asked: Question, sources: Sources) -> Flags:
    return np.array([not sources.per_installation(key) for key, _ in asked.draws.columns], dtype=bool)


def _in_jig(project: Project, untouched: Entry, sources: Sources) -> Band:
    """Straight in, with what the parts themselves err: their features and the play between them."""
    straight = entered_by(untouched, None)
    asked = question(straight, conditions_of(project, straight), sources)
    edges = [sources.by_name[key.source].acts_on for key, _ in asked.draws.columns]
    of_parts = np.array([edge.startswith(("feature.", "mate.")) for edge in edges], dtype=bool)
    return judge(asked, of_parts).band


def _margin(allowed: float, spread: Spread) -> float:
    bias = float(np.linalg.norm(spread.mean[:2]))
    return min(margin_ratio(allowed, spread.sigma_major, bias), _LARGEST_MARGIN)


def _pair_rows(conditions: tuple[Condition, ...], found: Judgement, sources: Sources) -> tuple[PairRow, ...]:
    rows = []
    for condition, low in zip(conditions, found.each, strict=True):
        spread = spread_of(condition.pair.delta, sources.variances)
        rows.append(
            PairRow(
                condition.name, condition.fit, *condition.clearance, condition.allowed,
                condition.allowed_angle, low, spread.sigma_major, spread.sigma_minor, spread.sigma_angle,
                tuple(_limit(r) for r in condition.requirements if r.name != "planar"),
            )
        )  # fmt: skip
    return tuple(rows)


def _limit(requirement: Requirement) -> Limit:
    ends = requirement.ends
    end = "both" if {"low", "high"} <= ends else "high" if "high" in ends else "low"
    # A row with a part of one metre per metre is a length, else an angle.
    is_length = bool(
        np.abs(requirement.rows[:, :2]).max() > 0.5 and not np.abs(requirement.rows[:, 3:5]).any()
    )
    middle = float(requirement.radii[len(requirement.radii) // 2])
    return Limit(requirement.name, middle, "m" if is_length else "rad", end)
