"""The chart on disk, as the beginning of the plan after an edit."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from handfast.checking.checked_project import CheckedProject
from handfast.cli.saved_records import RecordError, keep, record_path
from handfast.cli.screen import say
from handfast.files.record_json import load, sha256, stored_sha256
from handfast.model.basis import Basis
from handfast.model.chart import Chart
from handfast.page.wording import short_hash
from handfast.workflow.make_chart import Made, MadeAgain, Progress, plan_again


def after_edit(
    checked: CheckedProject, folder: str, seed: int, together: bool, progress: Progress
) -> MadeAgain | str | None:
    """The plan made from the chart on disk; None if there is none that says what it was planned from, or it
    was planned otherwise; or why it has to be planned from nothing."""
    made = earlier(folder)
    if made is None or made.basis.body.together != together:
        return None
    return plan_again(checked, made, seed=seed, progress=progress)


def earlier(folder: str) -> Made | None:
    """The chart on disk with what it was planned from; None if it does not say so."""
    chart, basis = (record_path(folder, name) for name in ("chart", "chart-basis"))
    if not (chart.is_file() and basis.is_file()):
        return None
    try:
        known = load(basis, Basis)
        if stored_sha256(chart) != known.inputs[0].sha256:
            return None  # another verb has put another chart there
        return Made(load(chart, Chart), known)
    except RecordError:
        return None  # it can be planned from nothing all the same


def things_of(records: Path) -> dict[str, str]:
    """Digests of the parts and tools that the chart in a folder of records was planned with, by name; none
    where it does not say so."""
    chart, basis = records / "chart.json", records / "chart-basis.json"
    try:
        known = load(basis, Basis) if basis.is_file() else None
    except RecordError:
        return {}
    if known is None or not chart.is_file() or stored_sha256(chart) != known.inputs[0].sha256:
        return {}
    read = (one for unit in known.body.units for one in unit.read)
    return {n.partition(" ")[2]: digest for n, digest in read if n.startswith(("part ", "tool "))}


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
        say(f"kept {again.kept} of {again.of} elements as they were (holds and delays apart), {anew} anew:")
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
            "anew": dict(again.because),
        },
        "from_nothing_because": "",
    }
