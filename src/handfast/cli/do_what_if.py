"""handfast what-if."""

from __future__ import annotations

from dataclasses import asdict

from handfast.cli.exit_codes import NO, YES
from handfast.cli.ledger_json import mates_json
from handfast.cli.open_project import open_project
from handfast.cli.saved_records import must_be_of, need
from handfast.cli.screen import say, say_json
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.page.ledger_section import chance, micrometres
from handfast.workflow.changed_errors import what_if
from handfast.workflow.settle_chart import short_of


def do_what_if(folder: str, changes: list[str], as_json: bool) -> int:
    """Two ledgers of the saved chart side by side. Yes: with the changes every mate meets the target."""
    checked = open_project(folder)
    chart = need(folder, "chart", Chart)
    must_be_of(checked.project, chart, folder)
    now, then = what_if(checked, chart, changes)
    target = checked.project.target
    met = not short_of(then, target)
    if as_json:
        sides = {name: _side(of) for name, of in (("now", now), ("then", then))}
        say_json("what-if", {"target": target, "met": met, "changes": changes, **sides})
    else:
        _tell(now, then, changes)
    return YES if met else NO


def _side(ledger: Ledger) -> dict[str, object]:
    return {
        "mates": mates_json(ledger),
        "build_yield": asdict(ledger.build_yield),
        "not_budgeted": [list(pair) for pair in ledger.not_budgeted],
        "chart_sha256": ledger.chart_sha256,
    }


def _tell(now: Ledger, then: Ledger, changes: list[str]) -> None:
    say(f"if {', '.join(changes)}; the chart stays as it is")
    say(f"{'':28}{'sigma':>10}{'then':>10}{'allowed':>10}{'then':>10}   chance now, then")
    after = {row.mate: row for row in then.rows}
    for row in now.rows:
        other = after.get(row.mate)
        if other is None:
            say(f"{row.mate:28}  no budget any more: {dict(then.not_budgeted).get(row.mate, '')}")
            continue
        say(
            f"{row.mate:28}{micrometres(row.after.sigma_major):>10}{micrometres(other.after.sigma_major):>10}"
            f"{micrometres(row.allowed):>10}{micrometres(other.allowed):>10}   "
            f"{chance(row.probability)}, {chance(other.probability)}"
            f"{'' if other.probability != row.probability else ': no change'}"
        )
    say(f"{'whole build':68}   {chance(now.build_yield)}, {chance(then.build_yield)}")
