"""handfast budget."""

from __future__ import annotations

import time
from dataclasses import asdict

from handfast.cli.exit_codes import NO, YES
from handfast.cli.open_project import open_project
from handfast.cli.saved_records import keep, must_be_of, need
from handfast.cli.screen import say, say_json
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger, MateRow
from handfast.page.ledger_section import chance, micrometres
from handfast.workflow.make_ledger import budget
from handfast.workflow.settle_chart import short_of

SHOWN = 5


def do_budget(folder: str, as_json: bool) -> int:
    """Add up the errors of every mate. Yes: each budgeted mate meets the target; no: one may fall short."""
    checked = open_project(folder)
    chart = need(folder, "chart", Chart)
    must_be_of(checked.project, chart, folder)
    started = time.perf_counter()
    ledger = budget(checked, chart)
    run_info = {"budgeting_s": round(time.perf_counter() - started, 3)}
    digest, wrote = keep(folder, "ledger", ledger, run_info)
    target = checked.project.target
    met = not short_of(ledger.body, target)
    if as_json:
        answer = {"target": target, "met": met, **asdict(ledger.body), "ledger_sha256": digest}
        say_json("budget", {**answer, "run_info": run_info})
    else:
        _tell(ledger.body, target)
        say(wrote)
    return YES if met else NO


def _tell(ledger: Ledger, target: float) -> None:
    for row in ledger.rows:
        for line in row_lines(row, target):
            say(line)
    for mate, why in ledger.not_budgeted:
        say(f"{mate}: not budgeted, so not shown to fit: {why}")
    say(
        f"whole build: {chance(ledger.build_yield)}; without touches {chance(ledger.build_yield_untouched)} "
        "(a mate without a budget counts as unknown)"
    )


def row_lines(row: MateRow, target: float) -> list[str]:
    """One mate: the fit, the errors before and after touches, the chance, and where the error comes from."""
    low, high = 1e6 * row.clearance_min, 1e6 * row.clearance_max
    meets = "meets" if row.probability.low >= target else "may fall short of"
    largest = sorted(row.contributors, key=lambda c: -c.share)[:SHOWN]
    return [
        f"{row.mate}: {row.fit}, clearance {low:+.0f} to {high:+.0f} µm",
        f"  lateral sigma {micrometres(row.before.sigma_major)}, "
        f"after touches {micrometres(row.after.sigma_major)}; "
        f"allowed {micrometres(row.allowed)}, margin ratio {row.margin_ratio:.2f}",
        f"  goes in {chance(row.probability)} over all cells ({meets} {100 * target:g} %), "
        f"{chance(row.probability_within)} within one, {chance(row.probability_untouched)} without touches",
        f"  per-installation errors alone: sigma {micrometres(row.between_cells.sigma_major)}",
        *(
            f"  {100 * c.share:5.1f} %  {micrometres(c.sigma):>8}  {c.source}, {c.changes}"
            f"{f', enters {c.appearances} times, counted once' if c.appearances > 1 else ''}"
            f"{', assumed' if c.assumed else ''}"
            for c in largest
        ),
        f"  {row.verdict}",
    ]
