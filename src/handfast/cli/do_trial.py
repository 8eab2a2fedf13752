"""handfast trial."""

from __future__ import annotations

import time
from dataclasses import asdict
from pathlib import Path
from typing import Any

from handfast.cli.exit_codes import NO, YES
from handfast.cli.open_project import open_project
from handfast.cli.saved_records import keep, must_be_of, need
from handfast.cli.screen import progress, say, say_json
from handfast.files.going import going
from handfast.files.record_json import RECORDS_FOLDER
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.reliability import Reliability
from handfast.model.trial import TrialReport
from handfast.page.ledger_section import chance
from handfast.workflow.compare import reliability
from handfast.workflow.make_trial import trial


def do_trial(folder: str, builds: int, touches: bool, seed: int, as_json: bool) -> int:
    """Simulate builds and set them beside the prediction. Yes: they agree; no: they do not."""
    checked = open_project(folder)
    chart = need(folder, "chart", Chart)
    must_be_of(checked.project, chart, folder)
    ledger = need(folder, "ledger", Ledger)
    started = time.perf_counter()
    with progress("building", every=10) as tell, going(Path(folder) / RECORDS_FOLDER, "trial") as shared:

        def built(done: int, of: int) -> None:
            tell(f"build {done}", done - 1, of)
            shared(done, of)

        found = trial(
            checked,
            chart,
            ledger,
            builds=builds,
            seed=seed,
            touches=touches,
            progress=built,
        )
    run_info = {"trying_s": round(time.perf_counter() - started, 3)}
    agreed = reliability(ledger, found)
    which = "touched" if touches else "untouched"
    digest, wrote = keep(folder, f"trial-{which}", found, run_info)
    agreed_digest, wrote_agreed = keep(folder, f"reliability-{which}", agreed, {})
    if as_json:
        answer = _answer(found.body, agreed.body, seed)
        hashes = {"trial_sha256": digest, "reliability_sha256": agreed_digest}
        say_json("trial", {**answer, **hashes, "run_info": run_info})
    else:
        _tell(found.body, agreed.body, run_info["trying_s"])
        say(wrote)
        say(wrote_agreed)
    return YES if agreed.body.agrees else NO


def _answer(found: TrialReport, agreed: Reliability, seed: int) -> dict[str, Any]:
    return {
        "with_touches": found.with_touches,
        "builds": len(found.builds),
        "good_builds": found.good_builds,
        "counts": [asdict(c) for c in found.counts],
        "agrees": agreed.agrees,
        "level": agreed.level,
        "mates": [asdict(m) for m in agreed.mates],
        "seed": seed,
        "chart_sha256": found.chart_sha256,
    }


def _tell(found: TrialReport, agreed: Reliability, took: float) -> None:
    how = "with touches" if found.with_touches else "without touches"
    say(f"{found.good_builds} of {len(found.builds)} simulated builds came out whole, {how} ({took:.0f} s)")
    causes = {c.mate: c.causes for c in found.counts}
    invalid = {c.mate: c.invalid for c in found.counts}
    for m in agreed.mates:
        low, high = (f"{100 * p:.1f}" for p in m.observed)
        verdict = "agrees" if m.agrees else ("was never tried" if m.tried == 0 else "does not agree")
        say(
            f"  {m.mate}: {m.succeeded} of {m.tried} went in, {low} to {high} %; "
            f"predicted {chance(m.predicted)}: {verdict}"
        )
        for cause, count in causes.get(m.mate, ()):
            say(f"      {count:>3}  {cause}")
        if invalid.get(m.mate):
            say(f"      {invalid[m.mate]:>3}  left out: the simulated contact was not accurate enough")
    say(f"  intervals at {100 * agreed.level:.2f} % each, so that all hold together with 95 %")
