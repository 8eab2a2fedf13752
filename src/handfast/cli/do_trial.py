"""handfast trial."""

from __future__ import annotations

import time
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from handfast.checking.checked_project import CheckedProject
from handfast.cli.exit_codes import NO, YES, UnusableError
from handfast.cli.open_project import open_project
from handfast.cli.saved_records import keep, must_be_of, need, record_path
from handfast.cli.screen import progress, say, say_json
from handfast.cli.trial_text import tell_rare, tell_trial
from handfast.files.going import going
from handfast.files.record_json import RECORDS_FOLDER
from handfast.files.shown_build import BUILD
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.record import Record
from handfast.model.reliability import Reliability
from handfast.model.trial import TrialReport
from handfast.workflow.compare import reliability
from handfast.workflow.make_trial import How, scaled_ledger, trial
from handfast.workflow.rare_failures import rare_failures


@dataclass(frozen=True, slots=True)
class Asked:
    """What to try. failures: of each mate, with errors as large as that takes, 0: not asked; width: of the
    widest interval at which it ends [share]; processes 0: as many as there are processors."""

    builds: int
    touches: bool
    scale: float
    recover: bool
    width: float | None
    failures: int
    processes: int
    cluster: str | None
    seed: int
    engine: bool = False


def do_trial(folder: str, asked: Asked, as_json: bool) -> int:
    """Simulate builds and set them beside the prediction. Yes: they agree; no: they do not."""
    if asked.failures and asked.engine:
        raise UnusableError("--engine: expected one trial, found --failures, which takes many; leave one out")
    if asked.failures > asked.builds:
        raise UnusableError(
            f"--failures {asked.failures}: expected at least as many builds at each size of the errors, "
            f"found --builds {asked.builds}; write --builds {10 * asked.failures}, say"
        )
    checked = open_project(folder)
    chart = need(folder, "chart", Chart)
    must_be_of(checked.project, chart, folder)
    ledger = need(folder, "ledger", Ledger)
    if asked.failures:
        return _rare(folder, checked, chart, ledger, asked, as_json)
    if asked.scale != 1.0:
        ledger = scaled_ledger(checked, chart, asked.scale)
    name = "touched" if asked.touches else "untouched"
    if asked.scale != 1.0:
        name = f"scaled-{name}"
    kept = record_path(folder, f"trial-{name}").with_suffix(".builds.jsonl")
    started = time.perf_counter()
    with progress("building", every=10) as tell, going(Path(folder) / RECORDS_FOLDER, "trial") as shared:

        def built(done: int, of: int) -> None:
            tell(f"build {done}", done - 1, of)
            shared(done, of)

        how = How(built, kept, asked.processes or None, asked.cluster, Path(folder) / RECORDS_FOLDER / BUILD)
        try:
            found = trial(
                checked, chart, ledger, builds=asked.builds, seed=asked.seed, touches=asked.touches,
                scale=asked.scale, recover=asked.recover, width=asked.width, engine=asked.engine,
                how=how,
            )  # fmt: skip
        except OSError as error:
            raise UnusableError(f"{kept}: cannot be written: {error.strerror}") from error
    run_info = {"trying_s": round(time.perf_counter() - started, 3)}
    agreed = reliability(ledger, found)
    digest, wrote = keep(folder, f"trial-{name}", found, run_info)
    agreed_digest, wrote_agreed = keep(folder, f"reliability-{name}", agreed, {})
    ended = len(found.body.builds) == asked.builds or asked.width is not None
    if ended:
        kept.unlink(missing_ok=True)
    if as_json:
        answer = _answer(found.body, agreed.body, asked.seed)
        hashes = {"trial_sha256": digest, "reliability_sha256": agreed_digest}
        say_json("trial", {**answer, **hashes, "run_info": run_info})
    else:
        tell_trial(found.body, agreed.body, run_info["trying_s"])
        if not ended:
            say(f"  stopped; the same command goes on after build {len(found.body.builds)}")
        say(wrote)
        say(wrote_agreed)
    return YES if agreed.body.agrees else NO


def _rare(
    folder: str,
    checked: CheckedProject,
    chart: Record[Chart],
    ledger: Record[Ledger],
    asked: Asked,
    as_json: bool,
) -> int:
    """Errors scaled up until each mate has failed often enough. Yes: all within a factor of two."""
    with progress("building", every=10) as tell:
        how = How(
            lambda done, of: tell(f"build {done}", done - 1, of), None, asked.processes or None, asked.cluster
        )
        found = rare_failures(
            checked, chart, ledger, failures=asked.failures, builds=asked.builds, seed=asked.seed,
            touches=asked.touches, how=how,
        )  # fmt: skip
    if as_json:
        rows = [{**asdict(r), "share": r.share, "agrees": r.agrees} for r in found]
        say_json("trial", {"rare_failures": rows, "failures": asked.failures, "seed": asked.seed})
    else:
        tell_rare(found, asked.failures)
    return YES if all(r.agrees for r in found if r.scale > 0) else NO


def _answer(found: TrialReport, agreed: Reliability, seed: int) -> dict[str, Any]:
    return {
        "with_touches": found.with_touches,
        "scale": found.scale,
        "engine": found.engine,
        "recoveries": [list(r) for b in found.builds for r in b.recoveries],
        "cycle_s": sorted(b.duration_s for b in found.builds if b.whole),
        "builds": len(found.builds),
        "good_builds": found.good_builds,
        "counts": [asdict(c) for c in found.counts],
        "agrees": agreed.agrees,
        "level": agreed.level,
        "mates": [asdict(m) for m in agreed.mates],
        "seed": seed,
        "chart_sha256": found.chart_sha256,
    }
