"""handfast budget."""

from __future__ import annotations

import time
from dataclasses import asdict, replace

from handfast.cli.exit_codes import NO, YES, UnusableError
from handfast.cli.jig_text import jig_json, jig_lines
from handfast.cli.ledger_json import mates_json
from handfast.cli.mate_text import mate_lines
from handfast.cli.open_project import open_project
from handfast.cli.saved_records import keep, must_be_of, need
from handfast.cli.screen import say, say_json
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger, MateRow
from handfast.page.ledger_section import chance, micrometres
from handfast.workflow.jig_or_not import fixtures, jig_or_not
from handfast.workflow.make_ledger import budget, gains_anew
from handfast.workflow.settle_chart import short_of

SHOWN = 5


def do_budget(folder: str, mate: str | None, as_json: bool, jig: bool = False) -> int:
    """Add up the errors of every mate. Yes: each budgeted mate (or the one named) meets the target; no: one
    may fall short. jig: also what each mate would be with a jig.
    """
    checked = open_project(folder)
    chart = need(folder, "chart", Chart)
    must_be_of(checked.project, chart, folder)
    started = time.perf_counter()
    ledger = budget(checked, chart)
    run_info = {"budgeting_s": round(time.perf_counter() - started, 3)}
    shown = ledger.body
    if mate is not None:
        shown = _only(shown, mate)
        shown = replace(shown, rows=tuple(gains_anew(checked, chart, row) for row in shown.rows))
    digest, wrote = keep(folder, "ledger", ledger, run_info)
    target = checked.project.target
    met = not short_of(shown, target) and (mate is None or bool(shown.rows))
    jigs, has = jig_or_not(checked.project, chart.body, shown), fixtures(checked.project)
    money = checked.project.economy
    if as_json:
        answer = {"target": target, "met": met, "mates": mates_json(shown), **asdict(shown)}
        if jig:
            answer["jig"] = jig_json(jigs, money, has)
        say_json("budget", {**answer, "ledger_sha256": digest, "run_info": run_info})
    elif mate is not None:
        for row in shown.rows:
            for line in mate_lines(row, chart.body):
                say(line)
        for line in jig_lines(jigs, money, has) if jig else ():
            say(line)
        _tell_missing(shown)
        say(wrote)
    else:
        _tell(shown, target)
        arms = {
            m.stands[5:]
            for m in checked.project.product.mates
            if (m.stands or "").startswith("hand.") and m.stands
        }
        for arm in sorted(arms):
            say(f"taken not to yield: the {arm} hand while it holds what is built on")
        for line in jig_lines(jigs, money, has) if jig else ():
            say(line)
        say(wrote)
    return YES if met else NO


def _only(ledger: Ledger, mate: str) -> Ledger:
    """The ledger of one mate. Raises UnusableError with the names there are."""
    rows = tuple(r for r in ledger.rows if r.mate == mate)
    missing = tuple(pair for pair in ledger.not_budgeted if pair[0] == mate)
    if not rows and not missing:
        known = ", ".join([*(r.mate for r in ledger.rows), *(name for name, _ in ledger.not_budgeted)])
        raise UnusableError(f"--mate {mate}: expected a mate of this chart, found none; there are: {known}")
    updates = tuple(u for u in ledger.updates if u.mate == mate)
    return replace(ledger, rows=rows, not_budgeted=missing, updates=updates)


def _tell(ledger: Ledger, target: float) -> None:
    say("Fit ledger: error budget per mate")
    for row in ledger.rows:
        for line in row_lines(row, target):
            say(line)
    _tell_missing(ledger)
    say(
        f"whole build: {chance(ledger.build_yield)}; without touches {chance(ledger.build_yield_untouched)} "
        "(a mate without a budget counts as unknown)"
    )
    for n, u in enumerate(ledger.unknowns, 1):
        gain = f"half as large, {u.mate} gains about {100 * u.gained_if_halved:.2f} points"
        say(f"unknown {n}: {u.source}, assumed; {gain}; {100 * u.share:.0f} % of a mate's variance at most")
    if ledger.taken_as_exact:
        say(f"taken as exact, nobody wrote an error: {', '.join(ledger.taken_as_exact)}")


def _tell_missing(ledger: Ledger) -> None:
    for mate, why in ledger.not_budgeted:
        say(f"{mate}: not budgeted, so not shown to fit: {why}")


def _clearance(row: MateRow) -> str:
    """Of a fit; a screw in its thread has none to tell."""
    low, high = 1e6 * row.clearance_min, 1e6 * row.clearance_max
    if low == high:
        return f", clearance {low:.0f} µm" if low else ""
    return f", clearance {low:+.0f} to {high:+.0f} µm"


def row_lines(row: MateRow, target: float) -> list[str]:
    """One mate: the fit, the errors before and after touches, the chance, and where the error comes from."""
    meets = "meets" if row.probability.low >= target else "may fall short of"
    largest = sorted(row.contributors, key=lambda c: -c.share)[:SHOWN]
    return [
        f"{row.mate}: {row.fit}{_clearance(row)}",
        f"  lateral sigma {micrometres(row.before.sigma_major)}, "
        f"after touches {micrometres(row.after.sigma_major)}; "
        f"allowed {micrometres(row.allowed)}, margin ratio {row.margin_ratio:.2f}",
        f"  goes in {chance(row.probability)} over all cells ({meets} {100 * target:g} %), "
        f"{chance(row.probability_within)} within one, {chance(row.probability_untouched)} without touches",
        f"  {chance(row.in_order)} in builds that came as far, "
        f"{chance(row.in_order_untouched)} without touches; "
        f"per-installation errors alone: sigma {micrometres(row.between_cells.sigma_major)}",
        *(
            f"  {100 * c.share:5.1f} %  {micrometres(c.sigma):>8}  {c.source}, {c.changes}"
            f"{f', enters {c.appearances} times, counted once' if c.appearances > 1 else ''}"
            f"{', assumed' if c.assumed else ''}"
            for c in largest
        ),
        f"  {row.verdict}",
    ]
