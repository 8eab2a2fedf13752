"""handfast plan."""

from __future__ import annotations

import time
from typing import Any

from handfast.cli.after_edit import after_edit, again_json, keep_made, tell_again
from handfast.cli.choices_text import choices_json, kept_choices, tell_choices
from handfast.cli.do_verify import Proven, proof_json, tell_outcome
from handfast.cli.do_verify import prove as make_proof
from handfast.cli.exit_codes import NO, YES, UnusableError
from handfast.cli.open_project import open_project
from handfast.cli.saved_records import keep, record_path
from handfast.cli.screen import progress, say, say_json
from handfast.model.chart import Chart
from handfast.model.no_plan import NoPlan
from handfast.model.record import Record
from handfast.page.wording import seconds
from handfast.spatial.units import UnitError, parse
from handfast.workflow.make_chart import Made, MadeAgain, choices


def do_plan(
    folder: str,
    seed: int,
    as_json: bool,
    together: bool = False,
    work: int = 0,
    optimise: str | None = None,
    fresh: bool = False,
    prove: bool = False,
) -> int:
    """Plan, save the chart or the reasons, tell. The exit code: no, too, where the proof does not hold.

    optimise: for how long shorter cycles are looked for, with its unit; fresh: from nothing, whatever chart
    there is; so it is too where shorter cycles are looked for; prove: check the chart again at once.
    """
    checked, allowed = open_project(folder), _time(optimise)
    started = time.perf_counter()
    with progress("planning") as tell:
        again = None if fresh or work or allowed else after_edit(checked, folder, seed, together, tell)
        if isinstance(again, MadeAgain):
            found: tuple[Made, ...] | Record[NoPlan] = (again.made,)
        else:
            found = choices(checked, seed=seed, progress=tell, together=together, work=work, seconds=allowed)
    run_info = {"planning_s": round(time.perf_counter() - started, 3)}
    of = len(checked.project.product.mates)
    if isinstance(found, tuple):
        digest, wrote = keep_made(folder, "", found[0], run_info)
        record_path(folder, "no-plan").unlink(missing_ok=True)
        listed = kept_choices(checked, folder, found) if work or allowed else ()
        chart = found[0].chart.body
        proof = make_proof(folder, checked.project, found[0].chart, digest) if prove else None
        if as_json:
            answer = {**chart_json(chart, of, seed, digest), **again_json(again)}
            answer["choices"] = choices_json(listed)
            if proof is not None:
                answer["proof"] = proof_json(proof.body, proof.digest)
                run_info |= proof.run_info
            say_json("plan", {**answer, "run_info": run_info})
        else:
            _tell(chart, of, seed, run_info["planning_s"], again, wrote, folder, bool(allowed), proof)
            tell_choices(listed, folder)
        return YES if proof is None or proof.body.holds else NO
    digest, wrote = keep(folder, "no-plan", found, run_info)
    no = found.body
    if as_json:
        say_json("plan", {**no_plan_json(no, of, seed, digest), "run_info": run_info})
    else:
        tell_no(no, wrote)
    return NO


def chart_json(chart: Chart, of: int, seed: int, digest: str) -> dict[str, Any]:
    """The chart without its motions."""
    fields = ("id", "number", "hand", "kind", "object", "target", "mate", "start_s", "duration_s",
              "waits_for", "until")  # fmt: skip
    return {
        "planned": True,
        "elements": [{f: getattr(e, f) for f in fields} for e in chart.elements],
        "makespan_s": chart.makespan_s,
        "lower_bound_s": chart.lower_bound_s,
        "mates": {"planned": len(chart.mates), "of": of},
        "seed": seed,
        "chart_sha256": digest,
    }


def no_plan_json(no: NoPlan, of: int, seed: int, digest: str) -> dict[str, Any]:
    """Why not, by cause."""
    return {
        "planned": False,
        "mate": no.mate,
        "certain": no.certain,
        "within": list(no.within),
        "causes": [{"cause": c.cause, "count": c.count, "nearest": c.nearest} for c in no.causes],
        "change": no.change,
        "mates": {"planned": 0, "of": of},
        "seed": seed,
        "no_plan_sha256": digest,
    }


def _time(text: str | None) -> float:
    if text is None:
        return 0.0
    try:
        allowed = parse(text, "time")
    except UnitError as error:
        raise UnusableError(f"--optimise: {error}") from error
    if allowed <= 0:
        raise UnusableError(f"--optimise: expected a time such as '20 s', found {text!r}")
    return allowed


def _tell(
    chart: Chart,
    of: int,
    seed: int,
    took: float,
    again: MadeAgain | str | None,
    wrote: str,
    folder: str,
    timed: bool,
    proof: Proven | None,
) -> None:
    ratio = chart.makespan_s / chart.lower_bound_s if chart.lower_bound_s > 0 else float("nan")
    say(
        f"{chart.project}: {len(chart.elements)} elements for {len(chart.mates)} of {of} mates, "
        f"{seconds(chart.makespan_s)} s a cycle "
        f"({ratio:.2f} times the lower bound of {seconds(chart.lower_bound_s)} s)"
    )
    say(f"planned in {took:.1f} s with seed {seed}")
    tell_again(again, folder)
    if timed:
        say("not repeatable: how far it came depends on the machine (--optimise-work N is)")
    if proof is not None:
        tell_outcome(proof.body, proof.took)
    say(wrote)
    if proof is not None:
        say(proof.wrote)
    then = "" if proof is not None else f"`handfast verify {folder}`, or "
    say(f"next: {then}`handfast show {folder}` to read it")


def tell_no(no: NoPlan, wrote: str) -> None:
    """Why there is no plan, by cause, and what would help."""
    if no.certain:
        say(f"No plan: {no.mate} cannot be done at this resolution.")
    else:
        say(f"No plan found for {no.mate}: the search ran out, which proves nothing. It was not found within")
        for what in no.within:
            say(f"          {what}")
        say("What it met on the way:")
    for c in no.causes:
        say(f"  {c.count:>6}  {c.cause}" + (f"; nearest: {c.nearest}" if c.nearest else ""))
    say(
        f"A change that works (tried): {no.change}"
        if no.change
        else "No change that makes it work was found."
    )
    say(wrote)
