"""Simulated builds of first-fit: share of time by part, an insertion in both solvers, two processes beside
one."""

from __future__ import annotations

import shutil
import tempfile
import time
from pathlib import Path
from typing import Any

from measured.clocks import Clocks
from measured.results import PROJECTS, keep, table

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.execution.arm_way import ArmWay
from handfast.execution.moved import clear
from handfast.execution.rehearsal import rehearse
from handfast.execution.touching import take_in
from handfast.kinematics.chain import load_chain
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.record import Record
from handfast.motion.correct import corrected
from handfast.trials.draw import Draws
from handfast.trials.engine_contact import insert_in_engine
from handfast.trials.quick_contact import insert_quickly
from handfast.trials.second_opinion import EVERY, repeated
from handfast.trials.simulated_cell import SimulatedCell
from handfast.trials.strategies import insert_by
from handfast.trials.trial import Trial, arms_of, one_build
from handfast.trials.true_task import true_task
from handfast.workflow.make_chart import is_chart, plan
from handfast.workflow.make_ledger import budget
from handfast.workflow.make_trial import How, trial

BUILDS, BY_PART = 60, 20
WANTED_MS, WANTED_S, WANTED_TIMES = 15.0, 300.0, 1.7


def by_part(what: Trial) -> list[tuple[str, float]]:
    """Seconds of each part, over BY_PART builds in this process, the sampled ones among them."""
    arms = arms_of(what.project)
    one_build(what, 0, arms)
    with Clocks() as clocks:
        clocks.on("the chart gone through before it is run", rehearse)
        clocks.on("corrected ways", corrected)
        clocks.on("corrected ways looked at before they are made", clear)
        clocks.on("touches taken in", take_in)
        clocks.on("contact, fast", insert_by)
        clocks.on("contact, repeated in the engine", repeated)
        clocks.on("what an insertion really is", true_task)
        clocks.on_attribute("draws", Draws, "deviation")
        clocks.on_attribute("moving the arms, the rest of it", ArmWay, "shifted", "go")
        cell = ("guarded_move", "drive", "grip", "release", "insert")
        clocks.on_attribute("the simulated cell, the rest of it", SimulatedCell, *cell)
        began = time.perf_counter()
        for number in range(BY_PART):
            one_build(what, number, arms)
        whole = time.perf_counter() - began
    spent = sorted(clocks.seconds.items(), key=lambda s: -s[1])
    return [*spent, ("the rest", whole - sum(s for _, s in spent))]


def insertion_ms(what: Trial) -> tuple[float, float, int]:
    """Milliseconds of processor time of an insertion, fast and in the engine, and of how many."""
    chains = {a.name: load_chain(a, what.project.folder) for a in what.project.cell.arms}
    grasps = tuple(dict.fromkeys(e.grasp for e in what.chart.elements if e.grasp is not None))
    tasks: list[Any] = []
    from handfast.execution.executor import execute

    for number in range(1, 11):
        draws = Draws(what.project.errors, what.seed, number)
        cell = SimulatedCell(what.project, chains, draws, grasps)
        execute(what.project, what.chart, what.ledger, cell, chains=chains)
        tasks += [task for _, task, _ in cell.solved]
    began = time.process_time()
    for task in tasks:
        insert_quickly(task)
    fast = time.process_time() - began
    began = time.process_time()
    for task in tasks[:6]:
        insert_in_engine(task)
    return 1e3 * fast / len(tasks), 1e3 * (time.process_time() - began) / 6, len(tasks)


def builds_s(checked: CheckedProject, chart: Record[Chart], ledger: Record[Ledger], processes: int) -> float:
    """Seconds of BUILDS builds, processes started anew."""
    began = time.perf_counter()
    trial(checked, chart, ledger, builds=BUILDS, seed=7, how=How(processes=processes))
    return time.perf_counter() - began


def main() -> None:
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "first-fit"
        shutil.copytree(PROJECTS / "first-fit", folder, ignore=shutil.ignore_patterns("records"))
        checked = check_folder(folder)
        if not isinstance(checked, CheckedProject):
            raise SystemExit(f"first-fit: {checked[0]}")
        chart = plan(checked, seed=7)
        if not is_chart(chart):
            raise SystemExit("first-fit: no plan, so nothing to measure")
        ledger = budget(checked, chart)
        what = Trial(checked.project, chart.body, ledger.body, 7)
        parts = by_part(what)
        fast, engine, count = insertion_ms(what)
        one, two = (builds_s(checked, chart, ledger, n) for n in (1, 2))
    whole = sum(s for _, s in parts)
    print(
        f"{BY_PART} builds of first-fit in one process, one insertion of every {EVERY} repeated in the engine"
    )
    table(
        ("part", "ms a build", "share"),
        [(n, f"{1e3 * s / BY_PART:.1f}", f"{s / whole:.0%}") for n, s in parts],
    )
    print(f"an insertion: {fast:.1f} ms (wanted: {WANTED_MS:.0f}), {engine:.0f} ms in the engine; of {count}")
    print(
        f"{BUILDS} builds: {one:.1f} s in one process, {two:.1f} s in two, {one / two:.2f} times as fast "
        f"(wanted: {WANTED_TIMES}); 1000 in two: {10 * two:.0f} s (wanted: {WANTED_S:.0f})"
    )
    figures = {
        "parts_ms_a_build": {n: 1e3 * s / BY_PART for n, s in parts}, "insertion_ms": fast,
        "insertion_in_engine_ms": engine, "one_process_s": one, "two_processes_s": two,
        "times_as_fast": one / two,
    }  # fmt: skip
    keep("trials", figures)


if __name__ == "__main__":
    main()
