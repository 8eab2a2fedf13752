"""Trials: many builds of one chart, each in a cell drawn from the error sources, through the one executor."""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections.abc import Callable, Generator, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from handfast.checking.checked_project import CheckedProject
from handfast.execution.anew import Planner
from handfast.execution.executor import execute
from handfast.files.shown_build import show
from handfast.kinematics.chain import Chain, load_chain
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.project import Project
from handfast.model.run_log import LogLine, RunLog
from handfast.model.trial import Build, MateTry, TrialReport
from handfast.proof.moved_motion import Surroundings, surroundings
from handfast.trials.bringing_home import BENDS
from handfast.trials.count import report
from handfast.trials.draw import EACH_ANEW, Draws, Nesting
from handfast.trials.engine_contact import insert_in_engine
from handfast.trials.quick_contact import insert_quickly
from handfast.trials.second_opinion import repeated, sampled
from handfast.trials.simulated_cell import SimulatedCell

Progress = Callable[[int, int], None]
Enough = Callable[[tuple[Build, ...]], bool]
BATCH = 50  # builds after which it is asked whether they are enough


@dataclass(frozen=True, slots=True)
class Trial:
    """All that a build needs but its number. scale: of every error's sigma; recover: carry out the
    recoveries that the chart declares; planner: of those that need a way planned anew, without one they are
    left out; engine: every insertion in the physics engine, none by the fast solver."""

    project: Project
    chart: Chart
    ledger: Ledger | None
    seed: int
    touches: bool = True
    chart_sha256: str = ""
    nesting: Nesting = EACH_ANEW
    scale: float = 1.0
    recover: bool = False
    engine: bool = False
    planner: Planner | None = None


@dataclass(frozen=True, slots=True)
class Ways:
    """How a trial is carried out, which changes nothing of what it finds. progress(done, of): after each
    build; processes: local ones; each: another way to have builds done, by their numbers, in that order;
    done: builds that were done before; keep: told each new one; shown: a file in which a build is shown now
    and then, for others to look at (not where `each` has them done)."""

    progress: Progress | None = None
    processes: int = 1
    each: Callable[[Trial, list[int]], Generator[Build, None, None]] | None = None
    done: tuple[Build, ...] = ()
    keep: Callable[[Build], None] | None = None
    shown: Path | None = None


HERE = Ways()


def trial(
    checked: CheckedProject | Project,
    chart: Chart,
    ledger: Ledger | None,
    *,
    builds: int,
    seed: int,
    touches: bool = True,
    chart_sha256: str = "",
    nesting: Nesting = EACH_ANEW,
    scale: float = 1.0,
    recover: bool = False,
    engine: bool = False,
    planner: Planner | None = None,
    enough: Enough | None = None,
    ways: Ways = HERE,
) -> TrialReport:
    """Try the chart in `builds` simulated cells. Equal arguments give equal reports, in whatever `ways`.

    ledger: its updates correct what touches show. nesting: how many builds share an installation, a shift, a
    lot; by default each build meets another cell. enough: asked after every BATCH builds whether to end
    there. An interrupt (KeyboardInterrupt) ends the trial with the builds done so far. Raises ValueError for
    a number of builds or processes below one.
    """
    if builds < 1 or ways.processes < 1:
        raise ValueError(f"expected at least one build and one process, found {builds} and {ways.processes}")
    project = checked.project if isinstance(checked, CheckedProject) else checked
    what = Trial(
        project, chart, ledger, seed, touches, chart_sha256, nesting, scale, recover, engine, planner
    )
    done: dict[int, Build] = {b.number: b for b in ways.done if b.number < builds}
    coming = _missing(what, [n for n in range(builds) if n not in done], ways)
    asked = range(BATCH, builds + BATCH, BATCH)
    try:
        with closing(coming):
            for stop in (min(n, builds) for n in asked):
                _up_to(stop, done, coming, builds, ways)
                counted = tuple(done[n] for n in range(stop))
                if enough is not None and enough(counted):
                    break
    except KeyboardInterrupt:
        if not done:
            raise
        counted = tuple(done[n] for n in sorted(done))
    return report(
        chart.mates,
        counted,
        chart_sha256=chart_sha256,
        touches=touches,
        scale=scale,
        recover=recover,
        engine=engine,
    )


def _up_to(stop: int, done: dict[int, Build], coming: Iterator[Build], builds: int, ways: Ways) -> None:
    """All builds below `stop`."""
    while any(n not in done for n in range(stop)):
        build = next(coming)
        done[build.number] = build
        if ways.keep is not None:
            ways.keep(build)
        if ways.progress is not None:
            ways.progress(len(done), builds)


def one_build(what: Trial, number: int, arms: Arms | None = None) -> tuple[Build, RunLog]:
    """One build: what became of each mate, and the log of its run."""
    loaded = arms if arms is not None else arms_of(what.project)
    draws = Draws(what.project.errors, what.seed, number, what.nesting, what.scale)
    grasps = tuple(dict.fromkeys(e.grasp for e in what.chart.elements if e.grasp is not None))
    solver = insert_in_engine if what.engine else insert_quickly
    cell = SimulatedCell(what.project, loaded.chains, draws, grasps, solver=solver)
    log = execute(
        what.project, what.chart, what.ledger, cell,
        touches=what.touches, chart_sha256=what.chart_sha256, chains=loaded.chains, around=loaded.around,
        recover=what.recover, planner=what.planner,
    )  # fmt: skip
    go_in = [m for m in what.chart.mates if what.project.product.mate(m).kind not in (*BENDS, "screw")]
    solved = () if what.engine else cell.solved
    repeats = tuple(
        repeated(*s) for s in solved if sampled(number, go_in.index(s[0]), len(go_in), s[2], what.scale)
    )
    took = log.lines[-1].time_s if log.lines else 0.0
    tries = _tries(what.chart, cell.tries, log)
    used = tuple((ln.text.partition(",")[0], ln.cause) for ln in log.lines if _declared(ln))
    unseen = not used and any(t.outcome == "failed" for t in tries)  # bad, and nothing in the cell told
    whole = log.ended == "done" and not unseen and all(t.outcome != "invalid" for t in tries)
    return Build(number, tries, took, repeats, used, whole), log


def _declared(line: LogLine) -> bool:
    """Whether a line says that a recovery of the chart begins."""
    return line.event == "recovery" and line.cause != ""


def _tries(chart: Chart, tries: list[MateTry], log: RunLog) -> tuple[MateTry, ...]:
    """The first try of each mate; a run that stopped on the way to a mate counts as that mate's failure."""
    by_mate = {t.mate: t for t in reversed(tries)}
    stopped = next((ln.element for ln in log.lines if ln.event == "stop"), "")
    blamed = next((e.mate for e in chart.elements if e.id == stopped), "")
    out = []
    for mate in chart.mates:
        found = by_mate.get(mate)
        if mate == blamed and (found is None or found.outcome == "ok"):
            found = MateTry(mate, "failed", log.reason, 0.0, 0.0, 0.0, 0.0)
        out.append(found or MateTry(mate, "not tried", "", 0.0, 0.0, 0.0, 0.0))
    return tuple(out)


@dataclass(frozen=True, slots=True)
class Arms:
    """Of all builds of a process: chains of the arms by name, and what they could meet."""

    chains: dict[str, Chain]
    around: Callable[[], Surroundings]


def arms_of(project: Project) -> Arms:
    """Read from the project's folder."""
    chains = {a.name: load_chain(a, project.folder) for a in project.cell.arms}
    return Arms(chains, cache(lambda: surroundings(project)))


def _missing(what: Trial, numbers: list[int], ways: Ways) -> Generator[Build, None, None]:
    """Builds of these numbers in their order, however they are spread."""
    if ways.each is not None:
        return ways.each(what, numbers)
    if ways.processes == 1:
        return one_after_another(what, numbers, ways.shown)
    return _spread(what, numbers, ways.processes, ways.shown)


def one_after_another(
    what: Trial, numbers: list[int], shown: Path | None = None
) -> Generator[Build, None, None]:
    """In this process."""
    arms = arms_of(what.project)
    for number in numbers:
        yield _shown(what, number, arms, shown)


def _shown(what: Trial, number: int, arms: Arms, shown: Path | None) -> Build:
    build, log = one_build(what, number, arms)
    if shown is not None:
        show(shown, number, log)
    return build


def _spread(
    what: Trial, numbers: list[int], processes: int, shown: Path | None
) -> Generator[Build, None, None]:
    if not numbers:
        return
    # A fresh interpreter in each process: a forked one would share the state of libraries with threads.
    pool = ProcessPoolExecutor(
        min(processes, len(numbers)),
        mp_context=multiprocessing.get_context("spawn"),
        initializer=_join,
        initargs=(what, shown),
    )
    try:
        yield from pool.map(_build, numbers, chunksize=1)
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


# What this process works on, set once as it starts, and where it shows builds.
_taken: list[tuple[Trial, Arms, Path | None]] = []


def _join(what: Trial, shown: Path | None) -> None:
    """Begin in a process of its own, that ends with the one that started it, even if that was killed."""
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _take(what, shown)


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)  # nobody is left to be told anything


def _take(what: Trial, shown: Path | None = None) -> None:
    _taken[:] = [(what, arms_of(what.project), shown)]


def _build(number: int) -> Build:
    what, arms, shown = _taken[0]
    return _shown(what, number, arms, shown)


def build_anywhere(what: Trial, number: int) -> Build:
    """One build in a process that knows nothing yet of the trial, such as a worker of a cluster."""
    if not _taken or _taken[0][0] != what:
        _take(what)
    return _build(number)
