"""Simulated builds beside the prediction: for each mate a band and an interval on one scale."""

from __future__ import annotations

from html import escape

from handfast.model.reliability import MateAgreement, Reliability
from handfast.model.trial import TrialReport
from handfast.page.html_table import table

WIDTH, LEFT, ROW = 1120, 300, 44


def trial_section(trials: tuple[TrialReport, ...], agreed: tuple[Reliability, ...]) -> str:
    """A <section>: the drawing, then the counts in a table."""
    drawing = _drawing(agreed) if agreed else ""
    verdicts = "".join(f"<p>{escape(_verdict(r))}</p>" for r in agreed)
    return (
        f'<section id="trials"><h2>Simulated builds beside the prediction</h2>{drawing}{verdicts}'
        f"{_table(trials)}<p>A simulated build draws every error anew and steps the same chart through "
        "contact physics. It shares the error sources with the ledger, not the calculation. "
        "It is not a real build.</p>"
        "</section>"
    )


def _verdict(r: Reliability) -> str:
    which = "With touches" if r.with_touches else "Without touches"
    answer = "agrees with the prediction" if r.agrees else "does not agree with the prediction"
    return f"{which}: what was tried {answer} (each interval at {100 * r.level:.2f} %, 95 % together)."


def _drawing(agreed: tuple[Reliability, ...]) -> str:
    lines = [(r.with_touches, mate) for r in agreed for mate in r.mates]
    least = min(min(m.predicted.low, m.observed[0]) for _, m in lines)
    start = min(0.9, int(least * 10) / 10)
    height = 40 + ROW * len(lines)
    body = _scale(start, height) + "".join(_line(i, w, m, start) for i, (w, m) in enumerate(lines))
    return (
        f'<svg class="agreement" viewBox="0 0 {WIDTH} {height}" role="img" '
        f'aria-label="Predicted band and observed interval of each mate">{body}</svg>'
    )


def _x(p: float, start: float) -> float:
    return LEFT + (WIDTH - LEFT - 40) * (p - start) / (1 - start)


def _scale(start: float, height: int) -> str:
    step = 0.05 if start >= 0.5 else 0.1
    marks = [start + step * i for i in range(round((1 - start) / step) + 1)]
    return "".join(
        f'<line class="grid" x1="{_x(p, start):.1f}" y1="24" x2="{_x(p, start):.1f}" y2="{height}"/>'
        f'<text class="time" x="{_x(p, start):.1f}" y="15">{100 * p:.0f} %</text>'
        for p in marks
    )


def _line(i: int, with_touches: bool, m: MateAgreement, start: float) -> str:
    y = 40 + ROW * i + ROW / 2 - 8
    low, high = _x(max(start, m.predicted.low), start), _x(m.predicted.high, start)
    left, right = (_x(max(start, p), start) for p in m.observed)
    rate = _x(max(start, m.succeeded / m.tried), start) if m.tried else LEFT
    how = "with touches" if with_touches else "without touches"
    return (
        f'<text class="words" x="0" y="{y}">{escape(m.mate)}</text>'
        f'<text class="note" x="0" y="{y + 15}">{how}, {m.succeeded} of {m.tried}'
        f"{_remark(m)}</text>"
        f'<rect class="predicted" x="{low - 2:.1f}" y="{y - 13}" width="{high - low + 4:.1f}" height="14"/>'
        f'<path class="observed" d="M{left:.1f} {y + 9}H{right:.1f}'
        f'M{left:.1f} {y + 4}v10M{right:.1f} {y + 4}v10"/>'
        f'<circle class="rate" cx="{rate:.1f}" cy="{y + 9}" r="4"/>'
    )


def _remark(m: MateAgreement) -> str:
    if not m.tried:
        return ": never reached"
    return "" if m.agrees else ": disagrees"


def _table(trials: tuple[TrialReport, ...]) -> str:
    rows = [
        [
            c.mate,
            "with touches" if t.with_touches else "without touches",
            f"{c.succeeded} of {c.tried}",
            f"{100 * c.interval[0]:.1f} to {100 * c.interval[1]:.1f} %",
            str(c.invalid),
            "; ".join(f"{cause} ({count})" for cause, count in c.causes) or "none",
        ]
        for t in trials
        for c in t.counts
    ]
    return table("counts", ["mate", "builds", "went in", "Wilson interval", "invalid", "failures"], rows)
