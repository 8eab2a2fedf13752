"""The fit ledger and the trials as tables."""

from __future__ import annotations

from handfast.model.ledger import Ledger, MateRow
from handfast.model.trial import TrialReport
from handfast.page.ledger_section import chance, micrometres
from handfast.report.content import Block, Row, Words, filled
from handfast.report.quantities import micrometres as clearance

_MATES = (
    ("mate", 0.15), ("fit", 0.16), ("clearance", 0.11), ("σ before touches", 0.08), ("σ after", 0.07),
    ("allowed", 0.07), ("margin ratio", 0.06), ("goes in", 0.15), ("goes in untouched", 0.15),
)  # fmt: skip
_CONTRIBUTORS = (
    ("mate", 0.18), ("source", 0.3), ("changes", 0.12), ("σ", 0.1), ("share", 0.08), ("remarks", 0.22),
)  # fmt: skip
_TRIALS = (
    ("mate", 0.18), ("builds", 0.14), ("went in", 0.1), ("Wilson interval", 0.14), ("left out", 0.08),
    ("failures", 0.36),
)  # fmt: skip


def ledger_tables(ledger: Ledger) -> tuple[Block, ...]:
    """A row a mate, and what the figures beside it mean."""
    return (
        filled("ledger", _MATES, mate_rows(ledger), "No mate is budgeted."),
        Words(f"Whole build: {chance(ledger.build_yield)}; without touches "
              f"{chance(ledger.build_yield_untouched)}. Margin ratio: allowed error over three sigma. σ: "
              "lateral, along the worse axis, over all cells. A bar below is the σ that a source brings."),
        *(Words(f"{r.mate}: {r.verdict}", "small") for r in ledger.rows),
    )  # fmt: skip


def mate_rows(ledger: Ledger) -> list[Row]:
    """Budgeted mates in the order of the chart."""
    return [
        (
            r.mate, r.fit, _clearance(r), micrometres(r.before.sigma_major),
            micrometres(r.after.sigma_major), micrometres(r.allowed), f"{r.margin_ratio:.2f}",
            chance(r.probability), chance(r.probability_untouched),
        )
        for r in ledger.rows
    ]  # fmt: skip


def _clearance(row: MateRow) -> str:
    """Threads have none that matters."""
    return clearance(row.clearance_min, row.clearance_max) if row.clearance_max else ""


def contributor_table(ledger: Ledger) -> Block:
    """Every source of every mate."""
    rows: list[Row] = []
    for r in ledger.rows:
        for c in sorted(r.contributors, key=lambda c: -c.share):
            notes = ["assumed"] if c.assumed else []
            notes += [f"enters {c.appearances} times, counted once"] if c.appearances > 1 else []
            share = f"{100 * c.share:.1f} %"
            rows.append((r.mate, c.source, c.changes, micrometres(c.sigma), share, ", ".join(notes)))
    return filled("contributors", _CONTRIBUTORS, rows, "No mate is budgeted.")


def trial_tables(trials: tuple[TrialReport, ...]) -> tuple[Block, ...]:
    """A row a mate and kind of trial."""
    rows: list[Row] = [
        (
            c.mate, "with touches" if t.with_touches else "without touches", f"{c.succeeded} of {c.tried}",
            f"{100 * c.interval[0]:.1f} to {100 * c.interval[1]:.1f} %", str(c.invalid),
            "; ".join(f"{cause} ({count})" for cause, count in c.causes) or "none",
        )
        for t in trials
        for c in t.counts
    ]  # fmt: skip
    note = (
        "A simulated build draws every error anew and steps the same chart through contact physics. It "
        "shares the error sources with the ledger, not the calculation. It is not a real build."
    )
    return filled("trials", _TRIALS, rows, "Nothing was tried."), Words(note, "small")
