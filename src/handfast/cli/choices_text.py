"""A short list of charts to choose from."""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from handfast.checking.checked_project import CheckedProject
from handfast.cli.after_edit import keep_made
from handfast.cli.saved_records import record_path
from handfast.cli.screen import say
from handfast.model.chart import Chart
from handfast.model.record import Record
from handfast.page.wording import seconds
from handfast.workflow.make_chart import Made

if TYPE_CHECKING:
    from handfast.model.ledger import Band

MOST = 4  # charts on the list
LISTED = re.compile(r"choice-\d+")  # the names they are kept by


@dataclass(frozen=True, slots=True)
class Choice:
    """One chart of the list: cycle time [s], how often a part changes hands or is set down, the whole
    build's chance if it can be reckoned, and the name that `restore` takes it by (none for the one that was
    saved)."""

    cycle_s: float
    handovers: int
    set_downs: int
    build: Band | None
    name: str


def kept_choices(checked: CheckedProject, folder: str, charts: tuple[Made, ...]) -> tuple[Choice, ...]:
    """The first of the charts as a list; all but the first are kept as choice-2, choice-3 and so on, in
    place of those of an earlier plan."""
    for old in record_path(folder, "kept").with_suffix("").glob("choice-*"):
        if LISTED.fullmatch(old.name):
            shutil.rmtree(old)
    out = []
    for k, made in enumerate(charts[:MOST], 1):
        name, record = "" if k == 1 else f"choice-{k}", made.chart
        if name:
            keep_made(folder, f"kept/{name}/", made, {})
        chart, tools = record.body, {m.tool for m in checked.project.product.mates}
        passed = sum(e.kind == "grasp" and e.target.startswith("hand.") for e in chart.elements)
        put = sum(
            e.kind == "release" and e.target.startswith("place.") and e.object not in tools
            for e in chart.elements
        )
        out.append(Choice(chart.makespan_s, passed, put, _build(checked, record), name))
    return tuple(out)


def _build(checked: CheckedProject, chart: Record[Chart]) -> Band | None:
    from handfast.uncertainty.refusal import BudgetError
    from handfast.workflow.make_ledger import budget

    try:
        return budget(checked, chart).body.build_yield
    except BudgetError:
        return None


def tell_choices(choices: tuple[Choice, ...], folder: str) -> None:
    """The list as lines; none where there is nothing to choose."""
    if len(choices) < 2:
        return
    from handfast.page.ledger_section import chance

    say("to choose from:")
    say("   cycle   handovers  set-downs  whole build goes together")
    for c in choices:
        build = "not reckoned" if c.build is None else chance(c.build)
        name = f"`handfast restore {folder} {c.name}`" if c.name else "saved"
        say(f"   {seconds(c.cycle_s):>5} s  {c.handovers:>9}  {c.set_downs:>9}  {build:<25}  {name}")


def choices_json(choices: tuple[Choice, ...]) -> list[dict[str, Any]]:
    """The list as JSON."""
    return [
        {
            "cycle_s": c.cycle_s,
            "handovers": c.handovers,
            "set_downs": c.set_downs,
            "build_yield": None if c.build is None else {"low": c.build.low, "high": c.build.high},
            "kept_as": c.name,
        }
        for c in choices
    ]
