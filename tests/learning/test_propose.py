"""Errors that are really otherwise than declared are refuted and put right; those that are as declared are
left."""

from __future__ import annotations

import math
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.trials.bench_chart import FOLDER, GRASP, bench_chart, bench_project, ledger, source

from handfast.execution.executor import execute
from handfast.execution.repeats import Repeats
from handfast.files.errors_diff import Measured, diff, with_measured
from handfast.files.project_reader import read_project
from handfast.kinematics.chain import load_chain
from handfast.learning.propose import propose
from handfast.model.chart import Chart
from handfast.model.error_source import ErrorSource
from handfast.model.project import Project
from handfast.model.run_log import RunLog
from handfast.model.source_proposal import SourceProposal, SourceProposals
from handfast.trials.draw import Draws
from handfast.trials.simulated_cell import SimulatedCell
from handfast.workflow.learn_sources import proposed_errors

TOUCH = source("touch.right", 2e-5)
TIP = source("arm.right.tip", 8e-6, 8e-6, 8e-6)


def chart_of(project: Project) -> Chart:
    """Up to the touch: nothing is put together, which would take longest."""
    whole = bench_chart(project)
    return replace(whole, elements=whole.elements[:4], mates=())


def measured(*real: ErrorSource, number: int = 0, repeats: Repeats | None = None) -> RunLog:
    """One run in a cell whose errors really are these."""
    project = bench_project(*real)
    chains = {a.name: load_chain(a, project.folder) for a in project.cell.arms}
    cell = SimulatedCell(project, chains, Draws(project.errors, 7, number), (GRASP,))
    log = execute(project, chart_of(project), ledger(), cell, chains=chains, repeats=repeats)
    assert [ln for ln in log.lines if ln.event == "contact"], log.reason
    return log


def rows(project: Project, *logs: RunLog) -> dict[str, SourceProposal]:
    found = propose(project, chart_of(project), ledger(), logs)
    return {f"{r.source} {r.freedom}": r for r in found}


def test_what_is_as_declared_is_not_refuted() -> None:
    found = rows(bench_project(TOUCH, TIP), measured(TOUCH, TIP, repeats=Repeats()))
    assert [r.source for r in found.values() if r.refuted] == []
    touch = found["touch.right 0"]
    assert touch.count == 30
    assert touch.interval[0] < 2e-5 < touch.interval[1]
    assert "only the sum is seen" in touch.text
    assert found["cell.yaml: cameras.overhead.sigma 0"].count == 20
    width = found["cell.yaml: grippers.right_gripper.width_noise -1"]
    assert width.count == 20
    assert width.interval[0] < 1e-5 < width.interval[1]
    assert found["cell.yaml: force_sensors.right_wrist.drift -1"].count == 60


def test_a_touch_that_is_worse_than_declared_is_refuted_and_its_sigma_found() -> None:
    worse = replace(TOUCH, sigma=(6e-5, 0.0, 0.0, 0.0, 0.0, 0.0))
    found = rows(bench_project(TOUCH, TIP), measured(worse, TIP, repeats=Repeats()))["touch.right 0"]
    assert found.refuted
    assert found.interval[0] < 6e-5 < found.interval[1]
    assert found.observed == pytest.approx(6e-5, rel=0.4)


def test_a_camera_that_is_worse_than_its_data_is_refuted() -> None:
    bad = source("camera.overhead", 9e-4, 3e-4, 5e-4, 5e-3, 5e-3, 5e-3)
    found = rows(bench_project(TOUCH), measured(TOUCH, bad, repeats=Repeats()))
    assert found["cell.yaml: cameras.overhead.sigma 0"].refuted
    assert not found["cell.yaml: cameras.overhead.sigma 1"].refuted


def test_two_sources_of_one_size_cannot_be_told_apart() -> None:
    tip = source("arm.right.tip", 2e-5, 2e-5, 2e-5)
    found = rows(bench_project(TOUCH, tip), measured(TOUCH, tip, repeats=Repeats()))
    row = found["touch.right + arm.right.tip -1"]
    assert "cannot be told apart; clock the right arm alone" in row.text
    assert row.declared == pytest.approx(2e-5 * math.sqrt(2), rel=1e-6)


def test_nothing_declared_is_said_so() -> None:
    found = rows(bench_project(), measured(TOUCH, repeats=Repeats()))["touch.right 0"]
    assert found.refuted
    assert "nothing is declared on touch.right" in found.text


def test_runs_are_set_against_what_the_ledger_foresees_of_a_touch() -> None:
    """The ledger here foresees 0.3 mm; the nest really stands off by 0.3 mm, then by 0.7 mm (one sigma)."""
    project = bench_project(TOUCH)
    for sigma, refuted in ((3e-4, False), (7e-4, True)):
        nest = source("holder.nest", sigma, changes="shift")
        logs = [measured(TOUCH, nest, number=n) for n in range(12)]
        row = rows(project, *logs)["reading of pin-in-bore/04-locate-right -1"]
        assert row.count == 12
        assert row.refuted is refuted
        assert "which it cannot tell apart" in row.text
    few = rows(project, *logs[:4])
    assert not [name for name in few if name.startswith("reading")]


def test_a_proposal_changes_its_number_and_nothing_else(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(FOLDER, tmp_path / "first-fit", ignore=shutil.ignore_patterns("records")))
    row = SourceProposal("right arm touches", 0, 2e-5, 6.12e-5, (5e-5, 8e-5), 30, True)
    tilted = math.radians(0.01), math.radians(0.025)
    tilt = SourceProposal("bore drilled off", 3, *tilted, (1e-4, 1e-3), 30, True)
    other = SourceProposal("cell.yaml: cameras.overhead.sigma", 0, 3e-4, 9e-4, (8e-4, 1e-3), 20, True)
    good = SourceProposal("right arm repeats", 0, 8e-6, 9e-6, (7e-6, 2e-5), 20, False)
    path = folder / "errors.yaml"
    project, _ = read_project(folder)
    assert project is not None
    text, left = proposed_errors(project, path, SourceProposals(1, (row, tilt, other, good)))
    assert [one.source for one in left] == ["cell.yaml: cameras.overhead.sigma"]
    before = {s.name: s for s in _sources(folder)}
    change = diff(path, text)
    assert change.count("\n-") == 2
    assert "+    sigma: [0.0612 mm, 0 mm, 0 mm, 0 deg, 0 deg, 0 deg]" in change
    assert "# x measured: 30 readings, 95 %: 0.05 to 0.08 mm, was 0.02 mm" in change
    path.write_text(text)
    after = {s.name: s for s in _sources(folder)}
    assert after["right arm touches"].sigma[0] == pytest.approx(6.12e-5)
    assert after["bore drilled off"].sigma[3] == pytest.approx(math.radians(0.025))
    changed = [name for name in before if before[name] != after[name]]
    assert sorted(changed) == ["bore drilled off", "right arm touches"]
    assert (
        np.count_nonzero(np.array(before["right arm touches"].sigma) != after["right arm touches"].sigma) == 1
    )


def test_what_stands_nowhere_is_left(tmp_path: Path) -> None:
    path = tmp_path / "errors.yaml"
    path.write_text("sources:\n  a:\n    acts_on: holder.nest\n  b:\n    sigma: [1 mm, 0 mm]\n")
    for name in ("a", "b", "c"):
        text, left = with_measured(path, [Measured(name, 0, 1e-3, "")], {})
        assert text == path.read_text()
        assert len(left) == 1


def _sources(folder: Path) -> tuple[ErrorSource, ...]:
    project, findings = read_project(folder)
    assert project is not None, findings
    return project.errors
