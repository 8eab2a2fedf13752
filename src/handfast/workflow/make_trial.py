"""Chart and ledger -> trial report: simulated builds with drawn errors and real contact."""

from __future__ import annotations

import os
from collections.abc import Callable

from handfast.checking.checked_project import CheckedProject
from handfast.files.record_json import make_record, sha256
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.record import Record
from handfast.model.trial import TrialReport
from handfast.workflow.compare import MismatchError
from handfast.workflow.inputs import inputs_of

MOST_PROCESSES = 8


def trial(
    checked: CheckedProject,
    chart: Record[Chart],
    ledger: Record[Ledger],
    *,
    builds: int,
    seed: int = 0,
    touches: bool = True,
    progress: Callable[[int, int], None] | None = None,
) -> Record[TrialReport]:
    """Try the chart in that many simulated cells; what touches show is corrected as the ledger says.

    Equal arguments give equal records, on one processor or many. progress(done, of): after each build.
    Raises MismatchError if the ledger is of another chart.
    """
    from handfast.trials.trial import trial as build_them

    must_fit(chart, ledger)
    found = build_them(
        checked,
        chart.body,
        ledger.body,
        builds=builds,
        seed=seed,
        touches=touches,
        chart_sha256=sha256(chart),
        progress=progress,
        processes=min(MOST_PROCESSES, os.cpu_count() or 1),
    )
    return make_record(found, inputs_of(checked.project, chart, ledger), seed)


def must_fit(chart: Record[Chart], ledger: Record[Ledger]) -> None:
    """Raises MismatchError unless the ledger is of this chart."""
    if ledger.body.chart_sha256 != sha256(chart):
        raise MismatchError(
            f"expected a ledger of chart {sha256(chart)[:12]}, found one of {ledger.body.chart_sha256[:12]}; "
            "budget the chart again"
        )
