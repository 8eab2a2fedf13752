"""A motion that a correction would lead into something is not made, nor is anything after it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.execution.scripted_cell import ScriptedCell
from tests.trials.bench_chart import TRAVEL, bench_chart, bench_project, ledger

from handfast.execution.cell import GuardedResult
from handfast.execution.executor import execute
from handfast.execution.rehearsal import ready_at
from handfast.kinematics.chain import load_chain
from handfast.model.cell import Obstacle
from handfast.model.chart import Chart
from handfast.model.project import Project
from handfast.model.run_log import RunLog
from handfast.model.shape import Box, Solid
from handfast.motion.correct import corrected
from handfast.proof.moved_motion import surroundings, would_meet
from handfast.proof.standing import Hold, Standing
from handfast.spatial import se3
from handfast.spatial.pose import Pose

PALM = 0.05  # half of its width along y, as first-fit's cell.yaml draws it [m]
BORE, TRAY = (-0.028, 0.45), (0.25, 0.4)  # where the pin goes in, and where it is taken from, x and y [m]


@pytest.fixture(scope="module")
def bench() -> tuple[Project, Chart]:
    project = bench_project()
    return project, bench_chart(project)


def between(project: Project, at: tuple[float, float], gap: float) -> Project:
    """With a post on each side along y, `gap` from the palm where the hand is led straight down there."""
    y = PALM + gap + 0.01
    posts = tuple(
        Obstacle(name, (Solid(Box((0.02, 0.02, 0.1)), Pose((at[0], at[1] + side * y, 0.1))),))
        for name, side in (("left post", -1), ("right post", 1))
    )
    return replace(project, cell=replace(project.cell, obstacles=(*project.cell.obstacles, *posts)))


def run(project: Project, chart: Chart, surprise: float, **cell: object) -> tuple[RunLog, ScriptedCell]:
    """A reading further off than expected moves every later target along y by as much."""
    there = ScriptedCell(project, touch=GuardedResult(True, TRAVEL + surprise), **cell)  # type: ignore[arg-type]
    told = ledger(gain=(0.0, -1.0, 0, 0, 0, 0))
    wide = replace(told, updates=tuple(replace(u, sigma_reading=1e-3) for u in told.updates))
    return execute(project, chart, wide, there), there


@pytest.mark.parametrize("surprise", [0.003, -0.003])
def test_a_large_correction_beside_an_obstacle_stops_before_anything_moves(
    bench: tuple[Project, Chart], surprise: float
) -> None:
    project, chart = bench
    log, cell = run(between(project, BORE, 0.002), chart, surprise)
    assert (log.ended, log.cause) == ("stopped", "cannot follow")
    assert "post" in log.reason
    assert "it was not moved" in log.reason
    # The last that moved is the touch, or the move through free space behind it; nothing leads to the bore.
    assert [ln.element for ln in log.lines if ln.event == "done"][-1] in {e.id for e in chart.elements[3:5]}
    assert cell.asked("insert") == []


@pytest.mark.parametrize("surprise", [0.0, 0.001, -0.001])
def test_a_correction_that_leaves_room_is_made(bench: tuple[Project, Chart], surprise: float) -> None:
    project, chart = bench
    log, cell = run(between(project, BORE, 0.002), chart, surprise)
    assert (log.ended, log.reason) == ("done", "")
    assert len(cell.asked("insert")) == 1


def test_a_pick_moved_to_where_the_part_was_seen_is_looked_at_too(bench: tuple[Project, Chart]) -> None:
    project, chart = bench
    place = between(project, TRAY, 0.003)
    log, cell = run(place, chart, 0.0, seen=Pose((TRAY[0], TRAY[1] + 0.005, 0.03)))
    assert (log.ended, log.cause) == ("stopped", "cannot follow")
    assert "element pin-in-bore/01-reach-right: " in log.reason
    assert cell.asked("move") == []
    log, _ = run(place, chart, 0.0, seen=Pose((TRAY[0], TRAY[1] + 0.002, 0.03)))
    assert log.ended == "done", log.reason


@pytest.mark.parametrize(("aside", "meets"), [(0.9e-3, None), (1.1e-3, ("right.palm", "right post"))])
def test_how_far_a_motion_may_move_is_what_the_drawing_leaves(
    bench: tuple[Project, Chart], aside: float, meets: tuple[str, str] | None
) -> None:
    """Posts 1 mm beside the palm."""
    project, chart = bench
    near = between(project, BORE, 1e-3)
    element, ready = chart.elements[6], ready_at(project, chart, 7)
    standing = Standing(
        {a.item: (a.parent, a.pose.matrix) for a in ready.scene.attachments},
        {arm: np.array(q) for arm, q in ready.q.items()},
        dict(ready.widths),
        {arm: Hold(item, ready.scene.of(item).pose.matrix, 2) for arm, item in ready.holding.items()},
    )
    chain = load_chain(project.cell.arm("right"), project.folder)
    motion = corrected(chain, element.motions[0], se3.translation(0, aside, 0))
    found = would_meet(surroundings(near), standing, element, motion, beside_held={"block"})
    assert (None if found is None else (found.a, found.b)) == meets


def test_what_is_held_is_looked_at_but_for_what_it_goes_into(bench: tuple[Project, Chart]) -> None:
    """The pin, half a millimetre aside of its bore, would stand in the block: that is the mate's business."""
    project, chart = bench
    element, ready = chart.elements[6], ready_at(project, chart, 7)
    parents = {a.item: (a.parent, a.pose.matrix) for a in ready.scene.attachments}
    holds = {arm: Hold(item, parents[item][1], 2) for arm, item in ready.holding.items()}
    standing = Standing(parents, {arm: np.array(q) for arm, q in ready.q.items()}, dict(ready.widths), holds)
    chain = load_chain(project.cell.arm("right"), project.folder)
    motion = corrected(chain, element.motions[0], se3.translation(5e-4, 0, 0))
    around = surroundings(project)
    assert would_meet(around, standing, element, motion, beside_held={"block"}) is None
    found = would_meet(around, standing, element, motion)
    assert found is not None
    assert {found.a, found.b} == {"pin", "block"}
