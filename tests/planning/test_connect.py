"""Free paths: the clearance is kept by the exact shapes too, along the whole timed motion."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from handfast import _kernel
from handfast.checking.checked_project import CheckedProject
from handfast.kinematics.forward import forward
from handfast.model.cell import Obstacle
from handfast.model.motion import Motion
from handfast.model.shape import Box, Solid
from handfast.motion.timing import at, timed
from handfast.planning.connect import connect, roomy, rounded
from handfast.planning.failure import Failure
from handfast.planning.workspace import Workspace, make_workspace
from handfast.spatial import se3
from handfast.spatial.pose import Pose

from .exact_clearance import along, clearance

Array = NDArray[np.float64]
AXES = np.eye(6)


def cluttered(checked: CheckedProject, seed: int) -> Workspace:
    """The example's cell with boxes in the air, none at the hands."""
    rng = np.random.default_rng(seed)
    boxes: list[Obstacle] = []
    while len(boxes) < 12:
        at_, size = rng.uniform((-0.7, 0.05, 0.2), (0.7, 0.8, 0.8)), rng.uniform(0.03, 0.25, 3)
        boxes.append(Obstacle(f"box {len(boxes)}", (Solid(Box(tuple(size)), Pose(tuple(at_))),)))
        cell = checked.project.cell
        project = replace(checked.project, cell=replace(cell, obstacles=(*cell.obstacles, *boxes)))
        ws = make_workspace(project)
        if any(roomy(ws, ws.start(), hand, ws.start().q[hand]) for hand in ws.hands):
            boxes.pop()
    return ws


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2))
def test_paths_among_obstacles_keep_the_clearance(first_fit: CheckedProject, seed: int) -> None:
    ws = cluttered(first_fit, seed)
    start, rng, found, round_about = ws.start(), np.random.default_rng(seed), 0, 0
    for i in range(50):
        hand = ("left", "right")[i % 2]
        chain = ws.hands[hand].chain
        way = connect(ws, start, hand, rng.uniform(chain.lower, chain.upper) * 0.8, i)
        if isinstance(way, Failure):
            continue
        found += 1
        if len(way.t) > 6 or found % 5 == 0:  # those with corners, and some of the straight ones
            round_about += len(way.t) > 6
            assert along(ws, start, hand, way, enough=0.01, step=0.03) >= ws.margin
            q = at(way, np.arange(0, way.duration, 0.01))
            assert (q >= chain.lower - 1e-9).all()
            assert (q <= chain.upper + 1e-9).all()
    assert found >= 5
    assert round_about >= 2


def test_a_path_begins_and_ends_where_it_should_and_is_repeatable(workspace: Workspace) -> None:
    start = workspace.start()
    goal = start.q["left"] + np.array([0.5, 0.1, -0.2, 0.3, 0.2, -0.4])
    one, two = (connect(workspace, start, "left", goal, 3) for _ in range(2))
    assert isinstance(one, Motion)
    assert one == two
    np.testing.assert_allclose([one.q[0], one.q[-1]], [start.q["left"], goal], atol=1e-12)
    assert (one.arm, one.path) == ("left", "free")


def test_a_goal_in_the_table_is_refused_with_what_is_missing(workspace: Workspace) -> None:
    start = workspace.start()
    hand = workspace.hands["left"]
    low = start.q["left"] + np.array([0, 1.3, 0, 0, 0, 0])  # leaning forwards until the hand is in the table
    assert hand.grip(low)[2, 3] < 0
    failure = connect(workspace, start, "left", low, 0)
    assert isinstance(failure, Failure)
    assert failure.cause == "collision on the way"
    assert failure.short_by > workspace.margin
    tight = roomy(workspace, start, "left", low)
    assert tight is not None
    assert tight.short_by == pytest.approx(failure.short_by, abs=1e-6)
    assert clearance(workspace, start, "left", low, 0.02) <= 0


def test_no_path_where_one_is_already_is_a_failure_not_an_empty_motion(workspace: Workspace) -> None:
    start = workspace.start()
    assert isinstance(connect(workspace, start, "left", start.q["left"], 0), Failure)


def test_corners_are_cut_less_where_an_obstacle_lies_inside_them(workspace: Workspace) -> None:
    """A ball inside a right turn of the hand: cut by 0.02 rad, the corner would be too near to it."""
    hand = workspace.hands["left"]
    q = workspace.start().q["left"]
    path = np.array([q + 0.5 * AXES[0], q, q + 0.4 * AXES[1]])
    tip = np.array([[0.0, 0.0, 0.0, 0.005]])
    cover = _kernel.Cover(hand.arm, tip, np.array([hand.chain.n], dtype=np.int32))
    a, corner, b = forward(hand.chain, path)[:, :3, 3]
    inside = (a - corner) / np.linalg.norm(a - corner) + (b - corner) / np.linalg.norm(b - corner)
    inside /= np.linalg.norm(inside)

    def nearest(motion: Motion, ball: Array) -> float:
        hands = forward(hand.chain, at(motion, np.linspace(0, motion.duration, 5000)))[:, :3, 3]
        return float(np.linalg.norm(hands - ball[:3], axis=1).min() - 0.005 - ball[3])

    def polyline(ball: Array) -> float:
        shares = np.linspace(0, 1, 3000)[:, None]
        legs = np.concatenate([u + shares * (v - u) for u, v in ((path[0], path[1]), (path[1], path[2]))])
        hands = forward(hand.chain, legs)[:, :3, 3]
        return float(np.linalg.norm(hands - ball[:3], axis=1).min() - 0.005 - ball[3])

    ball = np.array([*(corner + 0.014 * inside), 0.001])
    margin = polyline(ball) - 0.0005
    assert margin > 0.003
    assert nearest(timed(hand.chain, path, "free"), ball) < margin - 0.001
    world = _kernel.World(spheres=ball[None])
    kept = rounded(hand.chain, cover, world, path, margin)
    assert nearest(kept, ball) >= margin - 0.001
    far = _kernel.World(spheres=np.array([[0.0, 0.0, 5.0, 0.1]]))
    assert rounded(hand.chain, cover, far, path, margin) == timed(hand.chain, path, "free")
    assert kept.duration > timed(hand.chain, path, "free").duration
    assert se3.distance(forward(hand.chain, kept.q[-1])[0], forward(hand.chain, path[-1])[0])[0] < 1e-9
