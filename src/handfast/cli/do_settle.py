"""handfast plan --target."""

from __future__ import annotations

import time
from typing import Any

from handfast.cli.after_edit import again_json, chart_before, keep_made, tell_again
from handfast.cli.do_plan import chart_json, no_plan_json, tell_no
from handfast.cli.exit_codes import NO, YES, UnusableError
from handfast.cli.open_project import open_project
from handfast.cli.saved_records import keep, record_path
from handfast.cli.screen import progress, say, say_json
from handfast.cli.what_would import what_would
from handfast.files.record_json import make_record
from handfast.model.touch import Touch
from handfast.model.touch_demand import TouchDemand
from handfast.page.ledger_section import chance
from handfast.page.wording import seconds
from handfast.spatial.units import UnitError, parse
from handfast.workflow.inputs import inputs_of
from handfast.workflow.make_chart import Made
from handfast.workflow.settle_chart import NoPlanError, Settled, settled, short_of


def do_settle(
    folder: str,
    target: str,
    seed: int,
    as_json: bool,
    together: bool = False,
    work: int = 0,
    fresh: bool = False,
) -> int:
    """Plan and budget in turn until every mate meets the target or nothing more helps; save both
    records, tell. It goes on from the chart on disk unless `fresh`, or where shorter cycles are looked for.

    The exit code: yes if every mate meets the target.
    """
    checked, wanted = open_project(folder), _share(target)
    of = len(checked.project.product.mates)
    started = time.perf_counter()
    before = None if fresh or work else chart_before(folder, together)
    try:
        with progress("planning") as tell:
            found = settled(
                checked, target=wanted, seed=seed, progress=tell, together=together, work=work,
                earlier=before if isinstance(before, Made) else None,
            )  # fmt: skip
    except NoPlanError as error:
        record = make_record(error.no_plan, inputs_of(checked.project), seed)
        digest, wrote = keep(folder, "no-plan", record, {})
        if as_json:
            say_json("plan", no_plan_json(error.no_plan, of, seed, digest))
        else:
            tell_no(error.no_plan, wrote)
        return NO
    took = round(time.perf_counter() - started, 3)
    again = found.again if isinstance(before, Made) else before
    digest, wrote_chart = keep_made(folder, "", found.made, {"planning_s": took})
    ledger_digest, wrote_ledger = keep(folder, "ledger", found.ledger, {})
    record_path(folder, "no-plan").unlink(missing_ok=True)
    if as_json:
        chart = chart_json(found.chart.body, of, seed, digest)
        say_json("plan", {**chart, **again_json(again), **target_json(found, wanted),
                          "ledger_sha256": ledger_digest, "run_info": {"planning_s": took}})  # fmt: skip
    else:
        _tell(found, wanted, took)
        tell_again(again, folder)
        say(wrote_chart)
        say(wrote_ledger)
    return YES if reached(found, wanted) else NO


def reached(found: Settled, target: float) -> bool:
    """Whether every mate is budgeted and meets the target at the sure end."""
    return not short_of(found.ledger.body, target) and not found.ledger.body.not_budgeted


def target_json(found: Settled, target: float) -> dict[str, Any]:
    """Whether the target is reached, the touches that were added, and why there are no more."""
    return {
        "target": target,
        "reached": reached(found, target),
        "short_of_target": [row.mate for row in short_of(found.ledger.body, target)],
        "not_budgeted": [mate for mate, _ in found.ledger.body.not_budgeted],
        "demands": [
            {
                "mate": d.mate,
                "touches": [_named(t) for t in d.touches],
                "strategy": "straight" if d.strategy is None else d.strategy.name,
                "cannot_be_made": [_named(t) for t in d.excluded],
                "reason": d.reason,
            }
            for d in found.demands
        ],
    }


def _share(text: str) -> float:
    try:
        share = parse(text, "ratio")
    except UnitError as error:
        raise UnusableError(f"--target: {error}") from error
    if not 0 < share < 1:
        raise UnusableError(
            f"--target: expected a chance between 0 and 100 %, such as '99.5 %', found {text!r}"
        )
    return share


def _tell(found: Settled, target: float, took: float) -> None:
    chart, ledger = found.chart.body, found.ledger.body
    demands = {d.mate: d for d in found.demands}
    short = {row.mate for row in short_of(ledger, target)}
    touches = sum(e.kind == "locate" for e in chart.elements)
    say(
        f"{chart.project}: {len(chart.elements)} elements, {touches} of them touches, "
        f"{seconds(chart.makespan_s)} s a cycle; planned and budgeted in {took:.1f} s"
    )
    for row in ledger.rows:
        say(f"{row.mate}: {chance(row.probability)}, {len(row.touches)} touches used")
        for line in _of(demands.get(row.mate), row.mate in short):
            say(f"  {line}")
        if row.mate in short:
            if row.verdict.startswith("Not"):
                say(f"  {row.verdict}")
            say(f"  what would bring {100 * target:g} %: {what_would(row, target)}")
    for mate, why in ledger.not_budgeted:
        say(f"{mate}: not budgeted, so not shown to fit: {why}")
    missing = len(short) + len(ledger.not_budgeted)
    shown = f"{missing} mate{'s' if missing > 1 else ''} not shown" if missing else "reached by every mate"
    say(f"target {100 * target:g} %: {shown}")
    say(f"whole build: {chance(ledger.build_yield)}; without touches {chance(ledger.build_yield_untouched)}")


def _of(demand: TouchDemand | None, short: bool) -> list[str]:
    if demand is None:
        return []
    how = demand.strategy
    lines = [] if how is None else [f"by {how.name}, up to {how.seconds:.1f} s more: {how.text}"]
    lines += [f"added: {_named(touch)}" for touch in demand.touches]
    lines += [f"could not be made: {_named(touch)}" for touch in demand.excluded]
    return lines + ([f"no more touches: {demand.reason}"] if short and demand.reason else [])


def _named(touch: Touch) -> str:
    return f"{touch.held} against {touch.part}.{touch.feature}"
