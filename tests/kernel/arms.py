"""Arms, covers and worlds that the kernel's tests share: one textbook arm, the rest invented."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handfast import _kernel

from .twin import Chain, Floats, Obstacles, Shell

H = np.pi / 2
Row = tuple[float, float, float]  # d, a, alpha: standard Denavit-Hartenberg, theta is the joint

# Paul & Zhang 1986; Corke: the six-axis textbook arm.
TEXTBOOK: tuple[Row, ...] = (
    (0, 0, H), (0, 0.4318, 0), (0.15005, 0.0203, -H), (0.4318, 0, H), (0, 0, -H), (0, 0, 0),
)  # fmt: skip
OFFSET_SHOULDER: tuple[Row, ...] = (
    (0.40, 0.03, -H), (0, 0.45, 0), (0, 0.04, -H), (0.42, 0, H), (0, 0, -H), (0.08, 0, 0),
)  # fmt: skip
SLANTED: tuple[Row, ...] = (  # axes 1 and 2 meet, 2 and 3 are not parallel, and the wrist is not square
    (0.30, 0, -H), (0.05, 0.40, 0.3), (0.02, 0.05, -H), (0.38, 0, 1.1), (0, 0, -1.2), (0.1, 0, 0),
)  # fmt: skip
THREE_PARALLEL: tuple[Row, ...] = (
    (0.16, 0, H), (0, -0.42, 0), (0, -0.39, 0), (0.13, 0, H), (0.10, 0, -H), (0.09, 0, 0),
)  # fmt: skip
SEVEN: tuple[Row, ...] = (
    (0.34, 0, -H), (0, 0, H), (0.40, 0, H), (0, 0, -H), (0.40, 0, -H), (0, 0, H), (0.13, 0, 0),
)  # fmt: skip
NO_WRIST: tuple[Row, ...] = (
    (0.40, 0.03, -H), (0, 0.45, 0), (0, 0.04, -H), (0.42, 0.05, H), (0, 0.03, -H), (0.08, 0, 0),
)  # fmt: skip

AXIS_4_ASIDE: tuple[Row, ...] = (  # axes 5 and 6 meet, axis 4 passes 5 cm away
    (0.40, 0.03, -H), (0, 0.45, 0), (0, 0.04, -H), (0.42, 0.05, H), (0, 0, -H), (0.08, 0, 0),
)  # fmt: skip


def link_pose(row: Row) -> Floats:
    d, a, alpha = row
    c, s = np.cos(alpha), np.sin(alpha)
    return np.array([[1, 0, 0, a], [0, c, -s, 0], [0, s, c, d], [0, 0, 0, 1]])


def chain_of(rows: tuple[Row, ...], limit: float = np.pi) -> Chain:
    """Joint frames with z on the axis, base at the world origin."""
    n = len(rows)
    placements = np.stack([np.eye(4), *(link_pose(r) for r in rows[:-1])])
    axes = np.tile([0.0, 0.0, 1.0], (n, 1))
    return Chain(placements, axes, link_pose(rows[-1]), np.eye(4), np.full(n, -limit), np.full(n, limit))


def random_pose(rng: np.random.Generator, spread: float) -> Floats:
    Q, R = np.linalg.qr(rng.normal(size=(3, 3)))
    Q = Q * np.sign(np.diag(R))
    Q[:, 0] *= np.linalg.det(Q)
    T = np.eye(4)
    T[:3, :3], T[:3, 3] = Q, rng.uniform(-spread, spread, 3)
    return T


def random_chain(rng: np.random.Generator, n: int) -> Chain:
    """Nothing aligned: axes in any direction of their joint frames, base anywhere."""
    axes = rng.normal(size=(n, 3))
    axes /= np.linalg.norm(axes, axis=1, keepdims=True)
    placements = np.stack([random_pose(rng, 0.3) for _ in range(n)])
    return Chain(
        placements, axes, random_pose(rng, 0.1), random_pose(rng, 1.0), np.full(n, -3.0), np.full(n, 3.0)
    )


def rotated_joints(chain: Chain, rng: np.random.Generator) -> Chain:
    """The same arm with other joint frames: turned at random, axes no longer z, and slid along their axes."""
    turns = [random_pose(rng, 0) for _ in range(chain.n)]
    slides = []
    for axis in chain.axes:
        S = np.eye(4)
        S[:3, 3] = rng.uniform(-0.3, 0.3) * axis
        slides.append(S)
    moves = [S @ T for S, T in zip(slides, turns, strict=True)]
    backs = [np.eye(4), *(np.linalg.inv(M) for M in moves)]
    placements = np.stack([backs[i] @ chain.placements[i] @ moves[i] for i in range(chain.n)])
    axes = np.stack([T[:3, :3].T @ a for T, a in zip(turns, chain.axes, strict=True)])
    return Chain(placements, axes, backs[-1] @ chain.tip, chain.base, chain.lo, chain.hi)


def kernel_arm(c: Chain) -> _kernel.Arm:
    return _kernel.Arm(c.placements, c.axes, c.tip, c.base, c.lo, c.hi)


def kernel_cover(s: Shell) -> _kernel.Cover:
    return _kernel.Cover(kernel_arm(s.chain), s.spheres, s.links, s.pairs, s.masks)


def kernel_world(w: Obstacles) -> _kernel.World:
    return _kernel.World(
        box_poses=w.box_poses,
        box_halves=w.box_halves,
        capsules=w.capsules,
        spheres=w.spheres,
        half_spaces=w.half_spaces,
        masks=w.masks,
    )


def random_shell(rng: np.random.Generator, chain: Chain, masked: bool = False) -> Shell:
    links = np.repeat(np.arange(-1, chain.n + 1), 4).astype(np.int32)
    rng.shuffle(links)
    spheres = np.column_stack([rng.uniform(-0.1, 0.1, (len(links), 3)), rng.uniform(0.02, 0.06, len(links))])
    pairs = np.array([(-1, 3), (0, chain.n), (chain.n - 1, 1)], np.int32)
    masks = rng.integers(1, 8, len(links)).astype(np.uint32) if masked else None
    return Shell(chain, spheres, links, pairs, masks)


def random_obstacles(rng: np.random.Generator, each: int, spread: float, masked: bool = False) -> Obstacles:
    normal = rng.normal(size=(1, 3))
    normal /= np.linalg.norm(normal)
    ends = rng.uniform(-spread, spread, (each, 3))
    return Obstacles(
        box_poses=np.stack([random_pose(rng, spread) for _ in range(each)]),
        box_halves=rng.uniform(0.02, 0.2, (each, 3)),
        capsules=np.column_stack(
            [ends, ends + rng.uniform(-0.3, 0.3, (each, 3)), rng.uniform(0.02, 0.1, each)]
        ),
        spheres=np.column_stack([rng.uniform(-spread, spread, (each, 3)), rng.uniform(0.02, 0.15, each)]),
        half_spaces=np.column_stack([normal, [-spread]]),
        masks=rng.integers(1, 8, 3 * each + 1).astype(np.uint32) if masked else None,
    )


def limb_shell(chain: Chain, radius: float = 0.05) -> Shell:
    """Spheres along every link from its joint's origin to the next, and one at the tip."""
    spheres, links = [], []
    ends = [*chain.placements[1:], chain.tip]
    for i, T in enumerate(ends):
        count = max(2, int(np.ceil(np.linalg.norm(T[:3, 3]) / radius)) + 1)
        for t in np.linspace(0, 1, count):
            spheres.append([*(t * T[:3, 3]), radius])
            links.append(i)
    spheres.append([0, 0, 0, radius])
    links.append(chain.n)
    return Shell(chain, np.array(spheres), np.array(links, np.int32), np.array([(1, 5), (0, 5)], np.int32))


def clutter(rng: np.random.Generator, count: int) -> Obstacles:
    """Balls of 6 cm about the arm, and the ground."""
    return Obstacles(
        spheres=np.column_stack([rng.uniform(-0.9, 0.9, (count, 3)), np.full(count, 0.06)]),
        half_spaces=np.array([[0.0, 0.0, 1.0, -0.1]]),
    )


def draws(rng: np.random.Generator, chain: Chain, m: int) -> NDArray[np.float64]:
    return rng.uniform(chain.lo, chain.hi, (m, chain.n))
