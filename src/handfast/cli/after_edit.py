"""The chart on disk, as the beginning of the plan after an edit."""

from __future__ import annotations

from typing import Any

from handfast.checking.checked_project import CheckedProject
from handfast.cli.saved_records import keep, record_path
from handfast.cli.screen import say
from handfast.files.record_json import sha256
from handfast.page.wording import short_hash
from handfast.workflow.earlier_plan import earlier_plan
from handfast.workflow.make_chart import Made, MadeAgain, Progress, plan_again


def after_edit(
    checked: CheckedProject, folder: str, seed: int, together: bool, progress: Progress
) -> MadeAgain | str | None:
    """The plan made from the chart on disk; None if there is none that says what it was planned from; or why
    it has to be planned from nothing."""
    made = chart_before(folder, together)
    return plan_again(checked, made, seed=seed, progress=progress) if isinstance(made, Made) else made


def chart_before(folder: str, together: bool) -> Made | str | None:
    """The chart on disk, with what it was planned from; None if it does not say so; or why it is not to be
    gone on from."""
    made = earlier_plan(record_path(folder, "chart").parent)
    if made is None or made.basis.body.together == together:
        return made
    return "it has one hand at work at a time" if together else "it has both hands at work at once"


def keep_made(folder: str, where: str, made: Made, run_info: dict[str, Any]) -> tuple[str, str]:
    """Save a chart with what it was planned from; as `keep`."""
    told = keep(folder, f"{where}chart", made.chart, run_info)
    keep(folder, f"{where}chart-basis", made.basis, {})
    return told


def tell_again(again: MadeAgain | str | None, folder: str) -> None:
    """What was taken over of the chart before, and why not more."""
    if isinstance(again, str):
        say(f"planned from nothing, since the chart before cannot be gone on from: {again}")
    if not isinstance(again, MadeAgain):
        return
    if again.kept == again.of:
        say("nothing that the motions depend on has changed: they are those of the chart before")
    else:
        anew = again.of - again.kept
        alike = f", {again.alike} of which came out as they were" if again.alike else ""
        say(f"kept {again.kept} of {again.of} elements (holds and delays apart); planned {anew} anew{alike}:")
        for unit, why in again.because.items():
            say(f"  {unit}: {why}")
        if not again.because:
            say("  ways that would come too near what changed")
        before = next(f.sha256 for f in again.made.chart.inputs if f.path == "chart")
        say(f"made from chart {short_hash(before)}, whose order and hands it keeps")
    say(f"`handfast plan {folder} --fresh` plans from nothing and may find others")


def again_json(again: MadeAgain | str | None) -> dict[str, Any]:
    """The same as JSON: null where the chart before had no part in it."""
    if not isinstance(again, MadeAgain):
        return {"taken_over": None, "from_nothing_because": again or ""}
    before = [f.sha256 for f in again.made.chart.inputs if f.path == "chart"]
    return {
        "taken_over": {
            "of_chart_sha256": before[0] if before else sha256(again.made.chart),
            "kept": again.kept,
            "of": again.of,
            "alike": again.alike,
            "anew": dict(again.because),
        },
        "from_nothing_because": "",
    }
