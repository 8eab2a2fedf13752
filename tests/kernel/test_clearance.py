from __future__ import annotations

import itertools

import coal
import numpy as np
import pytest

from handfast import _kernel

from . import twin
from .arms import (
    OFFSET_SHOULDER,
    THREE_PARALLEL,
    chain_of,
    draws,
    kernel_arm,
    kernel_cover,
    kernel_world,
    limb_shell,
    random_chain,
    random_obstacles,
    random_pose,
    random_shell,
)
from .twin import Obstacles, Shell

# The kernel is low by SLACK and by what float32 loses, and never high: it answers just below the twin.
BAND = 2 * _kernel.SLACK


def random_case(seed: int, spread: float = 0.8, masked: bool = True) -> tuple[Shell, Obstacles, twin.Floats]:
    rng = np.random.default_rng(seed)
    chain = random_chain(rng, (6, 7, 3)[seed % 3])
    shell = random_shell(rng, chain, masked)
    return shell, random_obstacles(rng, 4, spread, masked), draws(rng, chain, 203)


@pytest.mark.parametrize("seed", range(6))
def test_clearance_is_a_tight_lower_bound_of_the_twins(seed: int) -> None:
    shell, world, q = random_case(seed)
    low = twin.clearance(shell, world, q) - _kernel.clearance(kernel_cover(shell), kernel_world(world), q)
    assert low.min() >= 0
    assert low.max() <= BAND


def test_clearance_stays_a_lower_bound_ten_metres_out() -> None:
    rng = np.random.default_rng(20)
    chain = random_chain(rng, 7)
    far = twin.Chain(chain.placements, chain.axes, chain.tip, random_pose(rng, 0), chain.lo, chain.hi)
    far.base[:3, 3] = [7.0, -6.5, 2.0]
    shell = random_shell(rng, far)
    near_it = random_obstacles(rng, 10, 1.0)
    near_it.box_poses[:, :3, 3] += far.base[:3, 3]
    near_it.spheres[:, :3] += far.base[:3, 3]
    near_it.capsules[:, :3] += far.base[:3, 3]
    near_it.capsules[:, 3:6] += far.base[:3, 3]
    q = draws(rng, far, 2000) * 2
    low = twin.clearance(shell, near_it, q) - _kernel.clearance(kernel_cover(shell), kernel_world(near_it), q)
    assert low.min() >= 0
    assert low.max() <= BAND


@pytest.mark.parametrize("seed", range(3))
def test_nearest_names_the_pair_that_is_that_close(seed: int) -> None:
    shell, world, q = random_case(seed)
    r = _kernel.nearest(kernel_cover(shell), kernel_world(world), q)
    outside, own = twin.world_gaps(shell, world, q), twin.own_gaps(shell, q)
    rows = {pair: i for i, pair in enumerate(world.kinds())}
    seen = set()
    for i in range(len(q)):
        kind, sphere, obstacle = int(r.kind[i]), int(r.sphere[i]), int(r.obstacle[i])
        gap = own[i, sphere, obstacle] if kind == _kernel.SELF else outside[i, sphere, rows[kind, obstacle]]
        assert abs(gap - r.distance[i]) <= BAND
        seen.add(kind)
    assert len(seen) >= 2


def test_every_kind_of_obstacle_agrees_with_coal_about_one_sphere() -> None:
    # coal (after Pan, Chitta & Manocha's fcl) is the outside judge of box, capsule, sphere and half-space.
    rng = np.random.default_rng(21)
    chain = chain_of(OFFSET_SHOULDER)
    shell = Shell(chain, np.array([[0.0, 0.0, 0.0, 0.05]]), np.array([6], np.int32))
    q = draws(rng, chain, 40)
    centres = shell.centres(q)[:, 0]
    for _ in range(25):
        world = random_obstacles(rng, 1, 0.7)
        shapes = coal_shapes(world)
        for kind, (shape, pose) in enumerate(shapes):
            r = _kernel.clearance(kernel_cover(shell), kernel_world(only(world, kind)), q)
            expected = [coal_distance(shape, pose, c, 0.05) for c in centres]
            # Penetration depths are compared by sign only: coal's are those of its own algorithm.
            outside = np.array(expected) > 1e-6
            np.testing.assert_allclose(r[outside], np.array(expected)[outside], atol=BAND)
            assert (r[np.array(expected) < -1e-6] < 0).all()


def only(world: Obstacles, kind: int) -> Obstacles:
    return [
        Obstacles(box_poses=world.box_poses, box_halves=world.box_halves),
        Obstacles(capsules=world.capsules),
        Obstacles(spheres=world.spheres),
        Obstacles(half_spaces=world.half_spaces),
    ][kind]


def coal_shapes(world: Obstacles) -> list[tuple[coal.CollisionGeometry, coal.Transform3s]]:
    p, r = world.capsules[0, :3], world.capsules[0, 3:6]
    z = (r - p) / np.linalg.norm(r - p)
    x = np.cross(z, np.eye(3)[np.argmin(np.abs(z))])
    x /= np.linalg.norm(x)
    R = np.column_stack([x, np.cross(z, x), z])
    T, h, s = world.box_poses[0], world.half_spaces[0], world.spheres[0]
    return [
        (coal.Box(*(2 * world.box_halves[0])), coal.Transform3s(T[:3, :3], T[:3, 3])),
        (coal.Capsule(world.capsules[0, 6], np.linalg.norm(r - p)), coal.Transform3s(R, (p + r) / 2)),
        (coal.Sphere(s[3]), coal.Transform3s(np.eye(3), s[:3])),
        (coal.Halfspace(h[:3], h[3]), coal.Transform3s.Identity()),
    ]


def coal_distance(
    shape: coal.CollisionGeometry, pose: coal.Transform3s, centre: twin.Floats, radius: float
) -> float:
    request, result = coal.DistanceRequest(), coal.DistanceResult()
    at = coal.Transform3s(np.eye(3), centre)
    return float(coal.distance(shape, pose, coal.Sphere(radius), at, request, result))


@pytest.mark.parametrize("margin", [-0.01, 0.0, 0.03])
@pytest.mark.parametrize("seed", range(3))
def test_free_means_clearance_of_at_least_the_margin(seed: int, margin: float) -> None:
    shell, world, q = random_case(seed, spread=1.5)
    cover, obstacles = kernel_cover(shell), kernel_world(world)
    free = _kernel.free(cover, obstacles, q, margin)
    exact = twin.clearance(shell, world, q)
    assert free[exact >= margin + BAND].all()
    assert not free[exact < margin].any()
    assert 0 < free.sum() < len(q)


@pytest.mark.parametrize("kind", range(4))
def test_free_of_one_kind_alone_means_clearance_of_at_least_the_margin(kind: int) -> None:
    rng = np.random.default_rng(26 + kind)
    chain = chain_of(OFFSET_SHOULDER)
    shell = Shell(chain, np.array([[0.0, 0.0, 0.0, 0.05]]), np.array([6], np.int32))
    q, margin = draws(rng, chain, 4000), 0.02
    world = only(random_obstacles(rng, 3, 0.3), kind)
    free = _kernel.free(kernel_cover(shell), kernel_world(world), q, margin)
    exact = twin.clearance(shell, world, q)
    assert ((exact > 0) & (exact < margin)).any(), "some lie within the margin only"
    assert free[exact >= margin + BAND].all()
    assert not free[exact < margin].any()


def test_nothing_to_hit_is_infinitely_far() -> None:
    chain = chain_of(OFFSET_SHOULDER)
    shell = limb_shell(chain)
    lone = _kernel.Cover(kernel_arm(chain), shell.spheres, shell.links)
    r = _kernel.nearest(lone, _kernel.World(), np.zeros((3, 6)))
    assert np.isposinf(r.distance).all()
    assert (r.kind == _kernel.NOTHING).all()
    assert _kernel.free(lone, _kernel.World(), np.zeros((3, 6))).all()


def test_base_spheres_meet_link_pairs_only() -> None:
    chain = chain_of(OFFSET_SHOULDER)
    shell = Shell(
        chain, np.array([[0.0, 0, 0, 0.1], [0, 0, 0, 0.05]]), np.array([-1, 6], np.int32), np.array([(-1, 6)])
    )
    ground = Obstacles(spheres=np.array([[0.0, 0, 0, 0.1]]))
    q = draws(np.random.default_rng(22), chain, 20)
    r = _kernel.nearest(kernel_cover(shell), kernel_world(ground), q)
    assert (r.sphere[r.kind == _kernel.SPHERE] == 1).all()
    np.testing.assert_allclose(r.distance, np.linalg.norm(shell.centres(q)[:, 1], axis=1) - 0.15, atol=BAND)


def test_spheres_at_agrees_with_the_twin() -> None:
    shell, _, q = random_case(1)
    spheres = _kernel.spheres_at(kernel_cover(shell), q)
    np.testing.assert_allclose(spheres[..., :3], shell.centres(q), atol=1e-13)
    np.testing.assert_array_equal(spheres[..., 3], np.tile(shell.spheres[:, 3], (len(q), 1)))


@pytest.mark.parametrize("seed", range(6))
def test_travel_bounds_every_spheres_way(seed: int) -> None:
    shell, _, q = random_case(seed)
    qa, qb = q[:100], q[100:200]
    bound = _kernel.travel(kernel_cover(shell), qa, qb)
    t = np.linspace(0, 1, 401)
    for a, b, most in zip(qa, qb, bound, strict=True):
        x = shell.centres(a + t[:, None] * (b - a))
        way = np.linalg.norm(np.diff(x, axis=0), axis=-1).sum(axis=0)
        assert way.max() <= most
    assert bound.max() > 0


def test_travel_of_one_joint_is_exact() -> None:
    chain = chain_of(OFFSET_SHOULDER)
    shell = Shell(chain, np.array([[0.3, 0.4, 0.2, 0.05]]), np.array([0], np.int32))
    qa, qb = np.zeros((1, 6)), np.array([[0.7, 0, 0, 0, 0, 0]])
    np.testing.assert_allclose(_kernel.travel(kernel_cover(shell), qa, qb), 0.7 * 0.5)


@pytest.mark.parametrize("seed", range(4))
def test_edges_are_free_where_the_twin_finds_room_and_blocked_where_it_finds_none(seed: int) -> None:
    shell, world, q = random_case(seed, spread=1.5)
    qa, qb = q[:40], q[:40] + 0.4 * (q[100:140] - q[:40])
    margin, resolution = 0.01, 0.004
    free = _kernel.edge_free(kernel_cover(shell), kernel_world(world), qa, qb, margin, resolution)
    lines = [twin.along(np.stack(ends), 0.003) for ends in zip(qa, qb, strict=True)]
    least = np.array([twin.clearance(shell, world, line).min() for line in lines])
    assert (least[free] >= margin - resolution / 2).all()
    assert free[least >= margin + BAND].all()
    assert 0 < free.sum() < len(free)


def test_an_obstacle_at_the_end_of_an_edge_blocks_it() -> None:
    chain = chain_of(THREE_PARALLEL)
    shell = limb_shell(chain)
    cover = _kernel.Cover(kernel_arm(chain), shell.spheres, shell.links)
    qa = np.zeros((40, 6))
    qb = draws(np.random.default_rng(23), chain, 40)
    for a, b in ((qa, qb), (qb, qa)):
        ends = shell.centres(qb)[:, -1]
        for i in range(40):
            world = _kernel.World(spheres=[[*ends[i], 1e-4]])
            assert not _kernel.edge_free(cover, world, a[i : i + 1], b[i : i + 1], resolution=10.0)[0]


def test_two_arms_are_as_far_apart_as_the_twin_says() -> None:
    rng = np.random.default_rng(24)
    a, b = random_shell(rng, random_chain(rng, 6)), random_shell(rng, random_chain(rng, 7))
    qa, qb = draws(rng, a.chain, 21), draws(rng, b.chain, 37)
    d = np.linalg.norm(a.centres(qa)[:, None, :, None] - b.centres(qb)[None, :, None, :], axis=-1)
    exact = (d - a.spheres[:, 3, None] - b.spheres[:, 3]).min(axis=(2, 3))
    low = exact - _kernel.between(kernel_cover(a), qa, kernel_cover(b), qb)
    assert low.shape == (21, 37)
    assert low.min() >= 0
    assert low.max() <= BAND
    median = float(np.median(exact))
    near = np.minimum(exact, median) - _kernel.between(kernel_cover(a), qa, kernel_cover(b), qb, far=median)
    assert near.min() >= 0
    assert near.max() <= BAND


@pytest.mark.parametrize("seed", [0, 1, 3, 4])
def test_arms_on_their_ways_are_too_close_where_the_distance_of_each_pair_says_so(seed: int) -> None:
    rng = np.random.default_rng(300 + seed)
    a, b = random_shell(rng, random_chain(rng, 6)), random_shell(rng, random_chain(rng, 7))
    b.chain.base[0, 3] += 0.6  # now and then near each other, mostly not
    ways = []
    for shell in (a, b):
        ends = draws(rng, shell.chain, 6)
        q = np.concatenate([np.linspace(p, r, 40, endpoint=False) for p, r in itertools.pairwise(ends)])
        step = np.linalg.norm(np.diff(shell.centres(q), axis=0), axis=-1).max(axis=1) + 1e-6
        ways.append((q, np.maximum(np.append(step, 0.0), np.append(0.0, step))))
    (qa, way_a), (qb, way_b) = ways
    apart = _kernel.between(kernel_cover(a), qa, kernel_cover(b), qb)
    for margin in (0.0, 0.02, 0.1):
        near = _kernel.closer(kernel_cover(a), qa, way_a, kernel_cover(b), qb, way_b, margin)
        np.testing.assert_array_equal(near, apart < margin + (way_a[:, None] + way_b) / 2)
    assert 0.002 < near.mean() < 0.98


def test_an_arm_standing_still_can_be_spheres_of_the_world() -> None:
    rng = np.random.default_rng(25)
    a, b = random_shell(rng, random_chain(rng, 6)), random_shell(rng, random_chain(rng, 6))
    still = draws(rng, b.chain, 1)
    q = draws(rng, a.chain, 50)
    moving = _kernel.Cover(kernel_arm(a.chain), a.spheres[a.links >= 0], a.links[a.links >= 0])
    world = _kernel.World(spheres=_kernel.spheres_at(kernel_cover(b), still)[0])
    apart = _kernel.between(moving, q, kernel_cover(b), still)[:, 0]
    np.testing.assert_allclose(_kernel.clearance(moving, world, q), apart, atol=1e-6)
