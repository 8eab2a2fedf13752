"""Verification, ledger and one trial build of both example products, on charts made here."""

from __future__ import annotations

import math
import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from measured.results import PROJECTS, keep, table

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.record import Record
from handfast.workflow.make_chart import is_chart, plan
from handfast.workflow.make_ledger import budget
from handfast.workflow.make_proof import verify
from handfast.workflow.make_trial import trial

NAMES = ("first-fit", "dosing-pump")


def timed(what: Callable[[], Any]) -> tuple[Any, float]:
    """The answer, and seconds."""
    began = time.perf_counter()
    answer = what()
    return answer, time.perf_counter() - began


def measure(name: str, folder: Path) -> dict[str, Any]:
    checked = check_folder(folder)
    if not isinstance(checked, CheckedProject):
        raise SystemExit(f"{name}: {checked[0]}")
    chart, planning = timed(lambda: plan(checked, seed=7))
    if not is_chart(chart):
        print(f"{name}: no plan, so nothing more to measure")
        return {"planned": False}
    proof, proving = timed(lambda: verify(checked.project, chart))
    ledger, adding = timed(lambda: budget(checked, chart))
    building, tried = _build(checked, chart, ledger)
    motions = sum(len(e.motions) for e in chart.body.elements)
    rows = [
        ("verify", proving, f"{motions} motions, {proof.body.configurations} configurations, "
                            f"{'holds' if proof.body.holds else 'DOES NOT HOLD'}"),
        ("budget", adding, f"{len(ledger.body.rows)} mates"),
        ("trial, one build", building, tried),
    ]  # fmt: skip
    print(f"{name} (planned in {planning:.1f} s)")
    table(("verb", "s", "of", "times planning"), [(v, s, of, f"{s / planning:.2f}") for v, s, of in rows])
    return {
        "planned": True,
        "plan_s": planning,
        "verify_s": proving,
        "configurations": proof.body.configurations,
        "motions": motions,
        "holds": proof.body.holds,
        "budget_s": adding,
        "trial_build_s": None if math.isnan(building) else building,
    }


def _build(checked: CheckedProject, chart: Record[Chart], ledger: Record[Ledger]) -> tuple[float, str]:
    """Seconds of one build, processes started anew, and of what; no number where it cannot be tried."""
    try:
        report, took = timed(lambda: trial(checked, chart, ledger, builds=1, seed=7))
    except ValueError as error:
        return float("nan"), f"cannot be tried: {error}"
    return took, f"{len(report.body.counts)} mates, processes started anew"


def main() -> None:
    figures = {}
    with tempfile.TemporaryDirectory() as scratch:
        for name in NAMES:
            folder = Path(scratch) / name
            shutil.copytree(PROJECTS / name, folder, ignore=shutil.ignore_patterns("records"))
            figures[name] = measure(name, folder)
    keep("other_verbs", figures)


if __name__ == "__main__":
    main()
