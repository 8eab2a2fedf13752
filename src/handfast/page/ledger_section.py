"""The fit ledger as an error budget: a row per mate, and what its error is made of."""

from __future__ import annotations

from html import escape

from handfast.model.ledger import Band, Contributor, Ledger, MateRow
from handfast.page.html_table import table

SHOWN = 7


def micrometres(value: float) -> str:
    """A length [m] in µm, as error budgets print it."""
    return f"{value * 1e6:.1f} µm" if abs(value) < 1e-5 else f"{value * 1e6:.0f} µm"


def chance(band: Band) -> str:
    """A probability band in per cent: one number where low and high print alike."""
    if band.low == band.high == 1.0:  # what was reckoned, not what is sure
        return "over 99.999 %"
    low, high = _percent(band.low), _percent(band.high)
    return f"{low} %" if low == high else f"{low} to {high} %"


def _percent(p: float) -> str:
    """Enough digits to tell it from 0 and 100."""
    for digits in (1, 2, 3):
        text = f"{100 * p:.{digits}f}"
        if 0 < float(text) < 100:
            return text
    if p in (0.0, 1.0):
        return f"{100 * p:.0f}"
    return "over 99.999" if p > 0.5 else "under 0.001"


def ledger_section(ledger: Ledger) -> str:
    """A <section>: the table of mates, then each mate's contributors as bars against what is allowed."""
    head = [
        "mate",
        "fit",
        "clearance",
        "σ before touches",
        "σ after",
        "allowed",
        "margin ratio",
        "goes in",
        "goes in untouched",
    ]
    rows = [_row(row) for row in ledger.rows]
    whole = (
        f"Whole build: {chance(ledger.build_yield)}; without touches {chance(ledger.build_yield_untouched)}."
    )
    missing = "".join(f"<li><b>{escape(m)}</b>: {escape(why)}</li>" for m, why in ledger.not_budgeted)
    left_out = f'<p class="doubt">Not budgeted, so not shown to fit:</p><ul>{missing}</ul>' if missing else ""
    return (
        '<section id="ledger"><h2>Fit ledger</h2>'
        f"{table('ledger', head, rows)}<p>{escape(whole)} Margin ratio: allowed error over three sigma. "
        "σ: lateral, along the worse axis, over all cells. Below, a bar is the σ that a source brings; "
        "the mark is a third of what is allowed.</p>"
        f"{left_out}{''.join(_budget(row) for row in ledger.rows)}</section>"
    )


def _row(row: MateRow) -> list[str]:
    low, high = row.clearance_min, row.clearance_max
    return [
        row.mate,
        row.fit,
        f"{low * 1e6:+.0f} to {high * 1e6:+.0f} µm",
        micrometres(row.before.sigma_major),
        micrometres(row.after.sigma_major),
        micrometres(row.allowed),
        f"{row.margin_ratio:.2f}",
        chance(row.probability),
        chance(row.probability_untouched),
    ]


def _budget(row: MateRow) -> str:
    """One mate: its verdict, and a bar per contributor: its sigma, against a third of what is allowed."""
    shown = sorted(row.contributors, key=lambda c: -c.share)[:SHOWN]
    widest = max([row.allowed / 3, *(c.sigma for c in shown)]) * 1.02
    bars = "".join(_bar(c, row.allowed / 3, widest) for c in shown)
    rest = sum(c.share for c in row.contributors) - sum(c.share for c in shown)
    more = f'<p class="small">Others: {100 * rest:.1f} % of the variance.</p>' if rest > 5e-4 else ""
    return (
        f'<div class="budget"><h3>{escape(row.mate)}</h3><p>{escape(row.verdict)}</p>'
        f'<div class="bars" role="list">{bars}</div>{more}</div>'
    )


def _bar(c: Contributor, mark: float, widest: float) -> str:
    notes = [c.changes, *(["assumed"] if c.assumed else [])]
    if c.appearances > 1:
        notes.append(f"enters {c.appearances} times, counted once")
    return (
        f'<div class="contributor" role="listitem"><span class="source">{escape(c.source)}'
        f'<span class="small"> {escape(", ".join(notes))}</span></span>'
        f'<span class="track"><span class="fill" style="width:{100 * c.sigma / widest:.2f}%"></span>'
        f'<span class="mark" style="left:{100 * mark / widest:.2f}%"></span></span>'
        f'<span class="value">{micrometres(c.sigma)}</span>'
        f'<span class="value">{100 * c.share:.0f} %</span></div>'
    )
