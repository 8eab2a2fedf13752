"""Chart and ledger -> trial report: simulated builds with drawn errors and real contact."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from handfast import __version__
from handfast.checking.checked_project import CheckedProject
from handfast.files.build_log import BuildLog
from handfast.files.record_json import make_record, sha256
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.record import Record
from handfast.model.trial import Build, TrialReport
from handfast.workflow.compare import MismatchError, level_of
from handfast.workflow.inputs import inputs_of

if TYPE_CHECKING:
    from handfast.trials.trial import Ways

MOST_PROCESSES = 8


@dataclass(frozen=True, slots=True)
class How:
    """How a trial is carried out, which changes nothing of what it finds. progress(done, of): after each
    build; kept: a file of the builds done so far, from which one that was stopped or killed goes on;
    processes: local ones, as many as there are processors if None; cluster: address of a Dask scheduler;
    shown: a file in which one of the builds is shown now and then (files/shown_build.py)."""

    progress: Callable[[int, int], None] | None = None
    kept: Path | None = None
    processes: int | None = None
    cluster: str | None = None
    shown: Path | None = None


AS_IT_COMES = How()


def trial(
    checked: CheckedProject,
    chart: Record[Chart],
    ledger: Record[Ledger],
    *,
    builds: int,
    seed: int = 0,
    touches: bool = True,
    scale: float = 1.0,
    recover: bool = False,
    engine: bool = False,
    width: float | None = None,
    until: Callable[[tuple[Build, ...]], bool] | None = None,
    how: How = AS_IT_COMES,
) -> Record[TrialReport]:
    """Try the chart in at most that many simulated cells; what touches show is corrected as the ledger says.

    Equal arguments give equal records, on one processor or many. scale: of every error, with a ledger made
    for it (`scaled_ledger`); recover: carry out the recoveries of the chart; engine: every insertion in the
    physics engine; width: end as soon as the
    interval of each mate is no wider; until: end as soon as it says so. Raises MismatchError if the ledger
    is of another chart, OSError if `kept` cannot be written, RuntimeError if the cluster cannot be used.
    """
    from handfast.trials.trial import trial as build_them
    from handfast.workflow.planned_anew import PlannedAnew

    must_fit(chart, ledger)
    of = {
        "chart": sha256(chart), "ledger": sha256(ledger), "seed": seed, "touches": touches, "scale": scale,
        "recover": recover, "engine": engine, "version": __version__,
    }  # fmt: skip
    log = None if how.kept is None else BuildLog(how.kept, {"trial": of})
    try:
        found = build_them(
            checked, chart.body, ledger.body, builds=builds, seed=seed, touches=touches,
            chart_sha256=sha256(chart), scale=scale, recover=recover, engine=engine,
            planner=PlannedAnew(checked.project, chart.seed) if recover else None,
            enough=until if width is None else lambda b: widest(chart.body, b) <= width,
            ways=_ways(how, log),
        )  # fmt: skip
    finally:
        if log is not None:
            log.close()
    return make_record(found, inputs_of(checked.project, chart, ledger), seed)


def _ways(how: How, log: BuildLog | None) -> Ways:
    from handfast.trials.trial import Ways

    each = None
    if how.cluster is not None:
        from handfast.trials.cluster import on_cluster

        each = on_cluster(how.cluster)
    processes = how.processes or min(MOST_PROCESSES, os.cpu_count() or 1)
    done, keep = ((), None) if log is None else (log.done, log.add)
    return Ways(how.progress, processes, each, done, keep, how.shown)


def widest(chart: Chart, builds: tuple[Build, ...]) -> float:
    """Width of the widest interval of a mate at the joint level; of mates that bend nothing is known."""
    from handfast.standards.interval import exact
    from handfast.trials.count import count

    counts = [count(mate, builds) for mate in chart.mates]
    level = level_of(len(counts))
    intervals = [exact(c.succeeded, c.tried, level) for c in counts if c.tried]
    return max((high - low for low, high in intervals), default=1.0)


def scaled_ledger(checked: CheckedProject, chart: Record[Chart], scale: float) -> Record[Ledger]:
    """The ledger of the chart as if every error were that much larger. Raises BudgetError."""
    from handfast.uncertainty.budget import budget
    from handfast.workflow.scaled_errors import scaled

    found = budget(scaled(checked.project, scale), chart.body, sha256(chart))
    return make_record(found, inputs_of(checked.project, chart), chart.seed)


def must_fit(chart: Record[Chart], ledger: Record[Ledger]) -> None:
    """Raises MismatchError unless the ledger is of this chart."""
    if ledger.body.chart_sha256 != sha256(chart):
        raise MismatchError(
            f"expected a ledger of chart {sha256(chart)[:12]}, found one of {ledger.body.chart_sha256[:12]}; "
            "budget the chart again"
        )
