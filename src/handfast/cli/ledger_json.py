"""The fit ledger as JSON for people and programs: mates by name, in the units that error budgets use."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from handfast.model.ledger import Band, Ledger, MateRow, Outcome, Spread


def mates_json(ledger: Ledger) -> list[dict[str, Any]]:
    """One object for each mate that has a budget, in the order of the chart."""
    return [_mate(row) for row in ledger.rows]


def _mate(row: MateRow) -> dict[str, Any]:
    return {
        "name": row.mate,
        "fit": row.fit,
        "clearance_um": {"min": row.clearance_min * 1e6, "max": row.clearance_max * 1e6},
        "before_touches": _spread(row.before),
        "after_touches": _spread(row.after),
        "within_cell": _spread(row.within),
        "between_cells": _spread(row.between_cells),
        "allowed_mm": row.allowed * 1e3,
        "allowed_deg": math.degrees(row.allowed_angle),
        "margin_ratio": row.margin_ratio,
        "probability": _band(row.probability),
        "probability_within": _band(row.probability_within),
        "probability_untouched": _band(row.probability_untouched),
        "in_order": _band(row.in_order),
        "in_order_untouched": _band(row.in_order_untouched),
        "assemblable": row.assemblable,
        "contributors": [
            {
                "source": c.source, "share": c.share, "gained_if_halved": c.gained_if_halved,
                "exact": c.exact,
                "changes": c.changes, "assumed": c.assumed, "enters": list(c.places),
            }
            for c in row.contributors
        ],
        "touches": list(row.touches),
        "strategy": row.strategy,
        "strategies": [{**asdict(s), "probability": _band(s.probability)} for s in row.strategies],
        "outcomes": _outcomes(row.outcomes),
        "pressing_N": None if row.pressing is None else asdict(row.pressing),
        "jaws": [{"element": j.element, "item": j.item, **_outcomes(j.outcomes)} for j in row.jaws],
        "verdict": row.verdict,
    }  # fmt: skip


def _band(band: Band) -> dict[str, Any]:
    return {"low": band.low, "high": band.high, "model_dependent": band.model_dependent}


def _outcomes(found: tuple[Outcome, ...]) -> dict[str, float]:
    return {o.name: o.probability for o in found}


def _spread(spread: Spread) -> dict[str, Any]:
    return {
        "sigma_mm": [spread.sigma_major * 1e3, spread.sigma_minor * 1e3],
        "sigma_deg": math.degrees(spread.sigma_angle),
    }
