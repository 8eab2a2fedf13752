"""handfast plan --only."""

from __future__ import annotations

import time

from handfast.cli.do_plan import chart_json, no_plan_json, tell_no
from handfast.cli.exit_codes import NO, YES, UnusableError
from handfast.cli.open_project import open_project
from handfast.cli.saved_records import keep
from handfast.cli.screen import progress, say, say_json
from handfast.page.wording import seconds
from handfast.workflow.make_chart import is_chart, plan, reasons
from handfast.workflow.make_proof import verify
from handfast.workflow.part_of_product import part_of_product


def do_plan_only(folder: str, name: str, seed: int, as_json: bool, together: bool) -> int:
    """Plan one sub-assembly by itself and prove it; its chart is kept beside that of the whole product.

    The exit code: no if there is no plan, or the proof does not hold.
    """
    try:
        alone = part_of_product(open_project(folder), name)
    except ValueError as error:
        raise UnusableError(f"--only: {error}") from error
    started = time.perf_counter()
    with progress("planning") as tell:
        found = plan(alone, seed=seed, progress=tell, together=together)
    run_info = {"planning_s": round(time.perf_counter() - started, 3)}
    of, where = len(alone.project.product.mates), f"kept/only-{name}"
    if not is_chart(found):
        digest, wrote = keep(folder, f"{where}/no-plan", found, run_info)
        if as_json:
            say_json("plan", {**no_plan_json(reasons(found), of, seed, digest), "run_info": run_info})
        else:
            tell_no(reasons(found), wrote)
        return NO
    digest, wrote = keep(folder, f"{where}/chart", found, run_info)
    proof = verify(alone.project, found).body
    if as_json:
        answer = chart_json(found.body, of, seed, digest)
        say_json("plan", {**answer, "only": name, "proof_holds": proof.holds, "run_info": run_info})
        return YES if proof.holds else NO
    say(
        f"{name} alone: {len(found.body.elements)} elements for {of} mates, "
        f"{seconds(found.body.makespan_s)} s, planned in {run_info['planning_s']:.1f} s with seed {seed}"
    )
    say("the proof holds" if proof.holds else f"the proof does not hold: {proof.violations[0].text}")
    say(wrote)
    say("a chart of this sub-assembly only: it can be looked at and compared, not run")
    return YES if proof.holds else NO
