"""Trials: many builds of one chart, each in a cell drawn from the error sources, through the one executor."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

from handfast.checking.checked_project import CheckedProject
from handfast.execution.executor import execute
from handfast.kinematics.chain import Chain, load_chain
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.project import Project
from handfast.model.run_log import RunLog
from handfast.model.trial import Build, MateTry, TrialReport
from handfast.trials.count import report
from handfast.trials.draw import EACH_ANEW, Draws, Nesting
from handfast.trials.insertion_model import MEASURED, ContactSettings
from handfast.trials.simulated_cell import SimulatedCell

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Trial:
    """All that a build needs but its number. scale: of every error's sigma."""

    project: Project
    chart: Chart
    ledger: Ledger | None
    seed: int
    touches: bool = True
    chart_sha256: str = ""
    nesting: Nesting = EACH_ANEW
    scale: float = 1.0
    settings: ContactSettings = MEASURED


def trial(
    checked: CheckedProject | Project,
    chart: Chart,
    ledger: Ledger | None,
    *,
    builds: int,
    seed: int,
    touches: bool = True,
    chart_sha256: str = "",
    progress: Progress | None = None,
    processes: int = 1,
    nesting: Nesting = EACH_ANEW,
    scale: float = 1.0,
) -> TrialReport:
    """Try the chart in `builds` simulated cells. Equal arguments give equal reports, whatever the number of
    processes.

    ledger: its updates correct what touches show. progress(done, of) is called after each build. nesting: how
    many builds share an installation, a shift, a lot; by default each build meets another cell. An interrupt
    (KeyboardInterrupt) ends the trial with the builds done so far. Raises ValueError for a number of builds
    or processes below one.
    """
    if builds < 1 or processes < 1:
        raise ValueError(f"expected at least one build and one process, found {builds} and {processes}")
    project = checked.project if isinstance(checked, CheckedProject) else checked
    what = Trial(project, chart, ledger, seed, touches, chart_sha256, nesting, scale)
    done: list[Build] = []
    try:
        for build in _each(what, builds, processes):
            done.append(build)
            if progress is not None:
                progress(len(done), builds)
    except KeyboardInterrupt:
        if not done:
            raise
    return report(chart.mates, tuple(done), chart_sha256=chart_sha256, touches=touches)


def one_build(what: Trial, number: int, chains: dict[str, Chain] | None = None) -> tuple[Build, RunLog]:
    """One build: what became of each mate, and the log of its run."""
    loaded = chains if chains is not None else _chains(what.project)
    draws = Draws(what.project.errors, what.seed, number, what.nesting, what.scale)
    grasps = tuple(dict.fromkeys(e.grasp for e in what.chart.elements if e.grasp is not None))
    cell = SimulatedCell(what.project, loaded, draws, grasps, what.settings)
    log = execute(
        what.project, what.chart, what.ledger, cell,
        touches=what.touches, chart_sha256=what.chart_sha256, chains=loaded,
    )  # fmt: skip
    return Build(number, _tries(what.chart, cell.tries, log), log.lines[-1].time_s if log.lines else 0.0), log


def _tries(chart: Chart, tries: list[MateTry], log: RunLog) -> tuple[MateTry, ...]:
    """One try for each mate; a run that stopped on the way to a mate counts as that mate's failure."""
    by_mate = {t.mate: t for t in tries}
    stopped = next((ln.element for ln in log.lines if ln.event == "stop"), "")
    blamed = next((e.mate for e in chart.elements if e.id == stopped), "")
    out = []
    for mate in chart.mates:
        found = by_mate.get(mate)
        if found is None and mate == blamed:
            found = MateTry(mate, "failed", log.reason, 0.0, 0.0, 0.0, 0.0)
        out.append(found or MateTry(mate, "not tried", "", 0.0, 0.0, 0.0, 0.0))
    return tuple(out)


def _chains(project: Project) -> dict[str, Chain]:
    return {a.name: load_chain(a, project.folder) for a in project.cell.arms}


def _each(what: Trial, builds: int, processes: int) -> Iterator[Build]:
    """Builds in their order, however they are spread over processes."""
    if processes == 1:
        chains = _chains(what.project)
        for number in range(builds):
            yield one_build(what, number, chains)[0]
        return
    # A fresh interpreter in each process: a forked one would share the state of libraries with threads.
    pool = ProcessPoolExecutor(
        min(processes, builds),
        mp_context=multiprocessing.get_context("spawn"),
        initializer=_take,
        initargs=(what,),
    )
    try:
        yield from pool.map(_build, range(builds), chunksize=1)
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


_taken: list[tuple[Trial, dict[str, Chain]]] = []  # what this process works on, set once as it starts


def _take(what: Trial) -> None:
    _taken[:] = [(what, _chains(what.project))]


def _build(number: int) -> Build:
    what, chains = _taken[0]
    return one_build(what, number, chains)[0]
