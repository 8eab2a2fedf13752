"""Straight lines of bodies, against distances at dense samples along them."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from handfast.geometry.body import Body, body, distance
from handfast.model.shape import Box, Cylinder, Solid, Sphere
from handfast.planning.clear_line import NEAR, Hit, Memo, blocked
from handfast.spatial import se3
from handfast.spatial.pose import Pose

Array = NDArray[np.float64]
I = np.eye(4)  # noqa: E741 - the identity


def drawn(rng: np.random.Generator, spread: float) -> Array:
    return se3.exp(np.concatenate([rng.uniform(-spread, spread, 3), rng.normal(size=3)]))


def boxes(name: str, rng: np.random.Generator, count: int) -> Body:
    solids = [
        Solid(Box(tuple(10 ** rng.uniform(-2.7, -0.9, 3))), Pose.from_matrix(drawn(rng, 0.03)))
        for _ in range(count)
    ]
    return body(name, tuple(solids), "/")


def along(moving: list[tuple[Body, Array]], standing: list[tuple[Body, Array]], T: Array, step: Array,
          allowed: frozenset[tuple[str, str]] = frozenset(), count: int = 400) -> float:  # fmt: skip
    """The least distance at dense samples along a line [m]."""
    least = np.inf
    for share in np.linspace(0, 1, count):
        at = se3.translation(*(share * step)) @ T
        for a, T_grip_a in moving:
            for b, T_b in standing:
                if (a.name, b.name) not in allowed:
                    least = min(least, distance(a, at @ T_grip_a, b, T_b, 0.01))
    return float(least)


def scene(seed: int) -> tuple[list[tuple[Body, Array]], list[tuple[Body, Array]], Array, Array]:
    rng = np.random.default_rng(seed)
    moving = [(boxes("hand", rng, 2), drawn(rng, 0.02)), (boxes("part", rng, 1), drawn(rng, 0.02))]
    standing = [(boxes(name, rng, 2), drawn(rng, 0.12)) for name in ("nest", "tray", "stand")]
    return moving, standing, drawn(rng, 0.12), rng.uniform(-0.2, 0.2, 3)


@pytest.mark.parametrize("seed", range(40))
def test_lines_are_blocked_where_dense_samples_say_so(seed: int) -> None:
    """Between two samples a pair comes nearer by half of what the step leaves it: half the clearance is
    certain."""
    moving, standing, T, step = scene(seed)
    hit = blocked(moving, standing, T, step)
    least = along(moving, standing, T, step)
    if hit is None:
        assert least >= NEAR / 2
    else:
        assert least < NEAR + np.linalg.norm(step) / 400
        assert hit.distance < NEAR
        assert hit.short_by == pytest.approx(NEAR - hit.distance)
        pair = (
            [(b, P) for b, P in moving if b.name == hit.moving],
            [(b, P) for b, P in standing if b.name == hit.standing],
        )
        assert along(*pair, T, step) < NEAR + np.linalg.norm(step) / 400


def test_the_random_scenes_are_worth_it() -> None:
    hits = [blocked(*scene(seed)[:2], *scene(seed)[2:]) for seed in range(40)]
    assert 10 < sum(h is not None for h in hits) < 30


@pytest.mark.parametrize("thick", [1e-3, 1e-5, 1e-7])
def test_a_plate_however_thin_is_not_jumped_over(thick: float) -> None:
    plate = body("plate", (Solid(Box((0.2, 0.2, thick))),), "/")
    for shape in (Cylinder(0.002, 0.01), Sphere(1e-5)):
        bead = body("bead", (Solid(shape),), "/")
        hit = blocked([(bead, I)], [(plate, I)], se3.translation(0, 0, 0.3037), np.array([0, 0, -0.6]))
        assert hit is not None
        assert (hit.moving, hit.standing) == ("bead", "plate")


@pytest.mark.parametrize(("gap", "free"), [(NEAR * 1.01, True), (NEAR * 0.99, False)])
def test_the_clearance_is_kept_beside_the_line_and_at_its_end(gap: float, free: bool) -> None:
    ball = body("ball", (Solid(Sphere(0.01)),), "/")
    wall = body("wall", (Solid(Box((1.0, 0.02, 1.0))),), "/")
    beside = se3.translation(0, 0.02 + gap, 0)
    assert (blocked([(ball, I)], [(wall, I)], beside, np.array([0.3, 0, 0])) is None) == free
    towards = np.array([0, -0.1, 0])
    assert (blocked([(ball, I)], [(wall, I)], se3.translation(0, 0.12 + gap, 0), towards) is None) == free
    assert (blocked([(ball, I)], [(wall, I)], beside, -towards) is None) == free


def test_another_clearance_may_be_asked_for() -> None:
    ball = body("ball", (Solid(Sphere(0.01)),), "/")
    wall = body("wall", (Solid(Box((1.0, 0.02, 1.0))),), "/")
    beside, step = se3.translation(0, 0.03, 0), np.array([0.3, 0, 0])
    memo: Memo = {}
    for kept in (None, memo):
        assert blocked([(ball, I)], [(wall, I)], beside, step, memo=kept, need=0.009) is None
        hit = blocked([(ball, I)], [(wall, I)], beside, step, memo=kept, need=0.011)
        assert hit is not None
        assert hit.short_by == pytest.approx(0.001)


def test_pairs_that_may_touch_are_left_out_and_no_others() -> None:
    ball = body("ball", (Solid(Sphere(0.01)),), "/")
    other = body("other", (Solid(Sphere(0.01)),), "/")
    wall = body("wall", (Solid(Box((1.0, 0.02, 1.0))),), "/")
    into = np.array([0, -0.1, 0])
    start = se3.translation(0, 0.08, 0)
    allowed = frozenset({("ball", "wall")})
    assert blocked([(ball, I)], [(wall, I)], start, into, allowed) is None
    hit = blocked([(ball, I), (other, se3.translation(0.1, 0, 0))], [(wall, I)], start, into, allowed)
    assert hit == Hit("other", "wall", hit.distance) if hit else False
    assert blocked([(ball, I)], [(wall, I)], start, into, frozenset({("wall", "ball")})) is not None


def test_a_line_of_no_length_asks_for_the_place_itself() -> None:
    ball = body("ball", (Solid(Sphere(0.01)),), "/")
    wall = body("wall", (Solid(Box((1.0, 0.02, 1.0))),), "/")
    assert blocked([(ball, I)], [(wall, I)], se3.translation(0, 0.03, 0), np.zeros(3)) is None
    assert blocked([(ball, I)], [(wall, I)], se3.translation(0, 0.02, 0), np.zeros(3)) is not None
    assert blocked([(ball, I)], [], I, np.array([0.1, 0, 0])) is None


def test_answers_that_were_kept_are_the_same_answers() -> None:
    memo: Memo = {}
    for seed in range(12):
        moving, standing, T, step = scene(seed)
        fresh = blocked(moving, standing, T, step)
        assert blocked(moving, standing, T, step, memo=memo) == fresh
        assert blocked(moving, standing, T, step, memo=memo) == fresh
        shifted = se3.translation(0.01, 0, 0) @ T
        assert blocked(moving, standing, shifted, step, memo=memo) == blocked(moving, standing, shifted, step)
        assert blocked(moving, standing, T, -step, memo=memo) == blocked(moving, standing, T, -step)
    assert memo


def test_what_was_kept_for_one_way_is_not_told_of_another() -> None:
    """A ball beside a post, inside the box around it: away it goes free, inwards it does not."""
    memo: Memo = {}
    ball, post = body("ball", (Solid(Sphere(0.01)),), "/"), body("post", (Solid(Cylinder(0.05, 1.0)),), "/")
    for way, free in ((0.1, True), (-0.1, False), (0.2, True)):
        step = np.array([way, way, 0.0])
        hit = blocked([(ball, I)], [(post, I)], se3.translation(0.048, 0.048, 0), step, memo=memo)
        assert (hit is None) == free
    assert len(memo) == 3
