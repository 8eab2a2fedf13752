from __future__ import annotations

import numpy as np
import pytest

from handfast import _kernel

from . import twin
from .arms import OFFSET_SHOULDER, THREE_PARALLEL, chain_of, clutter, kernel_cover, kernel_world, limb_shell
from .twin import Obstacles, Shell

MARGIN, RESOLUTION = 0.01, 0.01


def wall(thickness: float = 0.05, height: float = 0.5) -> Obstacles:
    """A wall standing before the arm, and the ground."""
    T = np.eye(4)
    T[:3, 3] = [0.5, 0.0, height / 2]
    return Obstacles(
        box_poses=T[None],
        box_halves=np.array([[0.3, thickness / 2, height / 2]]),
        half_spaces=np.array([[0.0, 0.0, 1.0, -0.06]]),
    )


def two_sides() -> tuple[Shell, Obstacles, np.ndarray, np.ndarray]:
    """Reaching low on either side of the wall."""
    shell = limb_shell(chain_of(OFFSET_SHOULDER), 0.04)
    start = np.array([0.464, -0.531, 0.285, 0.0, 0.245, 0.464])  # tip down at (0.5, 0.25, 0.15)
    return shell, wall(), start, start * [-1, 1, 1, 1, 1, -1]


IN_THE_WALL = np.array([0.0, -0.531, 0.285, 0.0, 0.245, 0.0])


def recheck(shell: Shell, world: Obstacles, path: np.ndarray) -> None:
    """Dense re-check by the twin, four times finer than the search's resolution."""
    least = twin.clearance(shell, world, twin.along(path, RESOLUTION / 4)).min()
    assert least >= MARGIN - RESOLUTION / 2


def length(path: np.ndarray) -> float:
    return float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())


@pytest.mark.parametrize("seed", range(8))
def test_paths_around_the_wall_hold_the_margin_before_and_after_shortening(seed: int) -> None:
    shell, world, start, goal = two_sides()
    cover, obstacles = kernel_cover(shell), kernel_world(world)
    assert not _kernel.edge_free(cover, obstacles, start[None], goal[None])[0], "the wall is in the way"
    r = _kernel.rrt_connect(
        cover, obstacles, start, goal[None], seed=seed, margin=MARGIN, resolution=RESOLUTION
    )
    assert r.outcome == "found"
    assert r.goal == 0
    assert r.path is not None
    np.testing.assert_array_equal(r.path[0], start)
    np.testing.assert_array_equal(r.path[-1], goal)
    recheck(shell, world, r.path)
    short = _kernel.shortcut(cover, obstacles, r.path, seed=seed, margin=MARGIN, resolution=RESOLUTION)
    np.testing.assert_array_equal(short[[0, -1]], r.path[[0, -1]])
    assert length(short) <= length(r.path) + 1e-12
    recheck(shell, world, short)


def test_shortening_helps() -> None:
    shell, world, start, goal = two_sides()
    cover, obstacles = kernel_cover(shell), kernel_world(world)
    before, after = [], []
    for seed in range(10):
        path = _kernel.rrt_connect(cover, obstacles, start, goal[None], seed=seed, margin=MARGIN).path
        assert path is not None
        before.append(length(path))
        after.append(length(_kernel.shortcut(cover, obstacles, path, seed=seed, margin=MARGIN)))
    assert np.median(after) < 0.8 * np.median(before)


def test_an_open_way_is_a_straight_line_to_the_nearest_goal() -> None:
    shell, _, start, goal = two_sides()
    goals = np.stack([goal, start + 0.2, start + 0.1])
    r = _kernel.rrt_connect(kernel_cover(shell), _kernel.World(), start, goals)
    assert r.path is not None
    np.testing.assert_array_equal(r.path, [start, start + 0.1])
    assert (r.goal, r.iterations) == (2, 0)


def test_blocked_goals_are_passed_over_and_the_row_of_the_one_reached_is_told() -> None:
    shell, world, start, goal = two_sides()
    assert twin.clearance(shell, world, IN_THE_WALL[None])[0] < 0
    goals = np.stack([IN_THE_WALL, goal + 7.0, goal])  # the second lies outside the limits
    r = _kernel.rrt_connect(kernel_cover(shell), kernel_world(world), start, goals, margin=MARGIN)
    assert (r.outcome, r.goal) == ("found", 2)
    assert r.path is not None
    np.testing.assert_array_equal(r.path[-1], goal)


def test_why_there_is_no_path_is_told_apart() -> None:
    shell, world, start, goal = two_sides()
    cover, obstacles = kernel_cover(shell), kernel_world(world)
    r = _kernel.rrt_connect(cover, obstacles, IN_THE_WALL, goal[None])
    assert (r.outcome, r.path, r.goal) == ("start blocked", None, -1)
    assert _kernel.rrt_connect(cover, obstacles, start, IN_THE_WALL[None]).outcome == "goals blocked"
    assert _kernel.rrt_connect(cover, obstacles, start, np.zeros((0, 6))).outcome == "goals blocked"
    assert _kernel.rrt_connect(cover, obstacles, start + 7.0, goal[None]).outcome == "start blocked"
    high = kernel_world(wall(height=3.0))
    shut = _kernel.rrt_connect(cover, high, start, goal[None], iterations=1, margin=MARGIN)
    assert (shut.outcome, shut.path, shut.iterations) == ("iterations", None, 1)


def test_ends_beyond_the_limits_are_blocked_even_where_nothing_is_in_the_way() -> None:
    shell, _, start, goal = two_sides()
    cover, nothing = kernel_cover(shell), _kernel.World()
    turn = 2 * np.pi * np.eye(6)[5]
    assert _kernel.rrt_connect(cover, nothing, start + turn, goal[None]).outcome == "start blocked"
    assert _kernel.rrt_connect(cover, nothing, start, (goal - turn)[None]).outcome == "goals blocked"


def test_searches_repeat_with_the_seed_and_differ_without() -> None:
    shell, world, start, goal = two_sides()
    cover, obstacles = kernel_cover(shell), kernel_world(world)
    one, same, other = (
        _kernel.rrt_connect(cover, obstacles, start, goal[None], seed=s, margin=MARGIN).path
        for s in (5, 5, 6)
    )
    assert one is not None
    assert other is not None
    np.testing.assert_array_equal(one, same)
    assert one.shape != other.shape or not np.array_equal(one, other)
    a, b, c = (_kernel.shortcut(cover, obstacles, one, seed=s, margin=MARGIN) for s in (1, 1, 2))
    np.testing.assert_array_equal(a, b)
    assert a.shape != c.shape or not np.array_equal(a, c)


def test_paths_stay_within_the_limits() -> None:
    shell, _, start, goal = two_sides()
    c = shell.chain
    lo, hi = np.minimum(start, goal) - 0.6, np.maximum(start, goal) + 0.6
    tight = twin.Chain(c.placements, c.axes, c.tip, c.base, lo, hi)
    cover = kernel_cover(Shell(tight, shell.spheres, shell.links, shell.pairs))
    for seed in range(5):
        r = _kernel.rrt_connect(
            cover, kernel_world(wall(height=0.3)), start, goal[None], seed=seed, margin=MARGIN
        )
        assert r.outcome == "found"
        assert r.path is not None
        assert (r.path >= lo).all()
        assert (r.path <= hi).all()


def test_a_long_way_round_is_found_when_trees_outgrow_their_first_room() -> None:
    rng = np.random.default_rng(30)
    chain = chain_of(THREE_PARALLEL)
    shell = limb_shell(chain, 0.04)
    balls = clutter(rng, 30)
    cover, world = kernel_cover(shell), kernel_world(balls)
    q = rng.uniform(-np.pi, np.pi, (4000, 6))
    ends = q[_kernel.free(cover, world, q, MARGIN)][:12].reshape(-1, 2, 6)
    nodes = []
    for i, (start, goal) in enumerate(ends):
        r = _kernel.rrt_connect(
            cover, world, start, goal[None], seed=i, margin=MARGIN, resolution=RESOLUTION, stride=0.05
        )
        assert r.outcome == "found"
        assert r.path is not None
        recheck(shell, balls, _kernel.shortcut(cover, world, r.path, margin=MARGIN, resolution=RESOLUTION))
        nodes.append(r.nodes)
    assert max(nodes) > 256
