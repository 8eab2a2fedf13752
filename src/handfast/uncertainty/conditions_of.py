"""What must hold for a mate, by its kind."""

from __future__ import annotations

import math

from handfast.model.project import Project
from handfast.uncertainty.by_strategy import by_strategy
from handfast.uncertainty.condition import Condition
from handfast.uncertainty.entry import Entry
from handfast.uncertainty.gear_condition import gear_condition
from handfast.uncertainty.insertion_condition import fits_together, insertion_condition
from handfast.uncertainty.press_condition import is_pressed, press_condition
from handfast.uncertainty.refusal import BudgetError
from handfast.uncertainty.screw_condition import screw_conditions

_GOING_IN = ("insert", "seat", "press", "gear-mesh")


def conditions_of(project: Project, entry: Entry) -> tuple[Condition, ...]:
    """What must hold for this mate. Raises BudgetError with the reason where nothing is known of its kind."""
    return by_strategy(entry, _straight(project, entry), project.cell.controller.lateral_stiffness)


def _straight(project: Project, entry: Entry) -> tuple[Condition, ...]:
    mate = entry.mate
    if mate.kind == "screw":
        return screw_conditions(entry)
    if mate.kind not in _GOING_IN:
        raise BudgetError(
            f"mate {mate.name!r}", "a part that keeps its shape", f"a {mate.kind}",
            "what bends or stretches is not budgeted and counts as not shown; "
            f"{_builds_to_show(project.target):.0f} builds in a row without a failure would show it",
        )  # fmt: skip
    if mate.kind == "gear-mesh" and not any(pair.moving.kind == "gear" for pair in entry.pairs):
        raise BudgetError(f"mate {mate.name!r}", "a pair of gears", "none", "counts as not shown")
    found = [_condition(project, entry, i) for i in range(len(entry.pairs))]
    kept = tuple(c for c in found if c is not None)
    if not kept:
        raise BudgetError(f"mate {mate.name!r}", "a hole with a shaft", "none", "counts as not shown")
    return kept


def _builds_to_show(target: float) -> float:
    """Builds without a failure that show a chance of `target` at 95 % confidence: target^n <= 5 % (Clopper
    and Pearson 1934, no failures)."""
    return math.ceil(math.log(0.05) / math.log(target)) if target < 1 else math.inf


def _condition(project: Project, entry: Entry, index: int) -> Condition | None:
    """The condition of one pair; None where the pair asks nothing of the way in."""
    pair = entry.pairs[index]
    if {pair.moving.kind, pair.fixed.kind} == {"gear"}:
        return gear_condition(entry, index)
    if is_pressed(entry, pair):
        return press_condition(entry, index)
    if fits_together(pair):
        return insertion_condition(project.product, project.cell.controller, entry, index)
    return None
