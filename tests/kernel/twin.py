"""The kernel's oracle: the same questions answered with plain numpy in float64, sharing no code with it."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def turn(axis: Floats, q: Floats) -> Floats:
    """Rotations about a unit axis by angles q (m,), as poses (m, 4, 4): Rodrigues' formula."""
    K = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    T = np.tile(np.eye(4), (len(q), 1, 1))
    T[:, :3, :3] += np.sin(q)[:, None, None] * K + (1 - np.cos(q))[:, None, None] * (K @ K)
    return T


@dataclass(frozen=True, slots=True)
class Chain:
    """An arm as the kernel's constructor takes it."""

    placements: Floats
    axes: Floats
    tip: Floats
    base: Floats
    lo: Floats
    hi: Floats

    @property
    def n(self) -> int:
        return len(self.placements)

    def links(self, q: Floats) -> Floats:
        """T_world_link of links 0 .. n-1 and the tip, (m, n + 1, 4, 4)."""
        T = np.tile(self.base, (len(q), 1, 1))
        out = []
        for i in range(self.n):
            T = T @ self.placements[i] @ turn(self.axes[i], q[:, i])
            out.append(T)
        return np.stack([*out, T @ self.tip], axis=1)

    def tip_poses(self, q: Floats) -> Floats:
        return self.links(q)[:, -1]

    def jacobian(self, q: Floats, step: float = 1e-6) -> Floats:
        """Central differences of the tip pose, world axes, linear then angular, (m, 6, n)."""
        columns = []
        T = self.tip_poses(q)
        for i in range(self.n):
            d = np.zeros(self.n)
            d[i] = step
            slope = (self.tip_poses(q + d) - self.tip_poses(q - d)) / (2 * step)
            W = slope[:, :3, :3] @ T[:, :3, :3].transpose(0, 2, 1)
            columns.append(np.stack([*slope[:, :3, 3].T, W[:, 2, 1], W[:, 0, 2], W[:, 1, 0]], axis=-1))
        return np.stack(columns, axis=-1)


@dataclass(frozen=True, slots=True)
class Shell:
    """A sphere cover as the kernel's constructor takes it."""

    chain: Chain
    spheres: Floats
    links: NDArray[np.int32]
    pairs: NDArray[np.int32] = field(default_factory=lambda: np.zeros((0, 2), np.int32))
    masks: NDArray[np.uint32] | None = None

    def centres(self, q: Floats) -> Floats:
        """(m, k, 3)"""
        T = self.chain.links(q)
        base = np.tile(self.chain.base, (len(q), 1, 1, 1))
        T = np.concatenate([base, T], axis=1)[:, self.links + 1]
        turned: Floats = np.einsum("mkij,kj->mki", T[..., :3, :3], self.spheres[:, :3])
        return turned + T[..., :3, 3]

    def mask(self) -> NDArray[np.uint32]:
        return np.full(len(self.links), 0xFFFFFFFF, np.uint32) if self.masks is None else self.masks


@dataclass(frozen=True, slots=True)
class Obstacles:
    """A world as the kernel's constructor takes it."""

    box_poses: Floats = field(default_factory=lambda: np.zeros((0, 4, 4)))
    box_halves: Floats = field(default_factory=lambda: np.zeros((0, 3)))
    capsules: Floats = field(default_factory=lambda: np.zeros((0, 7)))
    spheres: Floats = field(default_factory=lambda: np.zeros((0, 4)))
    half_spaces: Floats = field(default_factory=lambda: np.zeros((0, 4)))
    masks: NDArray[np.uint32] | None = None

    def kinds(self) -> list[tuple[int, int]]:
        """(kind, row) of every obstacle, in the order of the masks."""
        sizes = (len(self.box_poses), len(self.capsules), len(self.spheres), len(self.half_spaces))
        return [(kind, row) for kind, size in enumerate(sizes) for row in range(size)]

    def mask(self) -> NDArray[np.uint32]:
        return np.full(len(self.kinds()), 0xFFFFFFFF, np.uint32) if self.masks is None else self.masks

    def distances(self, x: Floats) -> Floats:
        """Signed distances from points x (..., 3) to every obstacle's surface, (..., obstacles)."""
        boxes = [box_distance(x, T, h) for T, h in zip(self.box_poses, self.box_halves, strict=True)]
        capsules = [segment_distance(x, c[:3], c[3:6]) - c[6] for c in self.capsules]
        spheres = [np.linalg.norm(x - s[:3], axis=-1) - s[3] for s in self.spheres]
        planes = [x @ h[:3] - h[3] for h in self.half_spaces]
        return np.stack([*boxes, *capsules, *spheres, *planes], axis=-1)


def box_distance(x: Floats, T: Floats, half: Floats) -> Floats:
    d = np.abs((x - T[:3, 3]) @ T[:3, :3]) - half
    signed: Floats = np.linalg.norm(np.maximum(d, 0), axis=-1) + np.minimum(d.max(axis=-1), 0)
    return signed


def segment_distance(x: Floats, p: Floats, r: Floats) -> Floats:
    t = np.clip((x - p) @ (r - p) / ((r - p) @ (r - p)), 0, 1)
    gaps: Floats = np.linalg.norm(x - p - t[..., None] * (r - p), axis=-1)
    return gaps


def world_gaps(shell: Shell, world: Obstacles, q: Floats) -> Floats:
    """Signed distance of every sphere to every obstacle, inf where it is not tested, (m, k, obstacles)."""
    gaps = world.distances(shell.centres(q)) - shell.spheres[:, 3, None]
    tested = (shell.mask()[:, None] & world.mask()) != 0
    return np.where(tested & (shell.links >= 0)[:, None], gaps, np.inf)


def own_gaps(shell: Shell, q: Floats) -> Floats:
    """Signed distance between every two spheres, inf where their links are no pair, (m, k, k)."""
    x, r = shell.centres(q), shell.spheres[:, 3]
    gaps = np.linalg.norm(x[:, :, None] - x[:, None], axis=-1) - r[:, None] - r
    tested = np.zeros(gaps.shape[1:], bool)
    for a, b in shell.pairs:
        tested |= (shell.links == a)[:, None] & (shell.links == b)
    return np.where(tested, gaps, np.inf)


def clearance(shell: Shell, world: Obstacles, q: Floats) -> Floats:
    """Signed clearance, (m,)."""
    everything = [own_gaps(shell, q).reshape(len(q), -1).min(axis=1)]
    if world.kinds():
        everything.append(world_gaps(shell, world, q).reshape(len(q), -1).min(axis=1))
    least: Floats = np.min(everything, axis=0)
    return least


def along(path: Floats, step: float) -> Floats:
    """Configurations along a polyline, no joint moving more than `step` [rad] between two."""
    pieces = []
    for a, b in pairwise(path):
        t = np.linspace(0, 1, int(np.ceil(np.abs(b - a).max() / step)) + 1)[:, None]
        pieces.append(a + t * (b - a))
    return np.concatenate(pieces)
