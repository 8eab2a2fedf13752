"""Answers of the kernel at the level the environment asks for, written to the file named as argument."""

from __future__ import annotations

import sys

import numpy as np
from tests.kernel import arms

from handfast import _kernel


def collect() -> dict[str, np.ndarray]:
    rng = np.random.default_rng(40)
    chain = arms.chain_of(arms.OFFSET_SHOULDER)
    shell = arms.random_shell(rng, chain, masked=True)
    limbs = arms.limb_shell(chain, 0.03)
    obstacles = arms.random_obstacles(rng, 6, 0.9, masked=True)
    cover, world = arms.kernel_cover(shell), arms.kernel_world(obstacles)
    q = arms.draws(rng, chain, 1003)
    found = _kernel.nearest(cover, world, q)
    out = {
        "level": np.array(_kernel.level()),
        "distance": found.distance,
        "sphere": found.sphere,
        "obstacle": found.obstacle,
        "kind": found.kind,
        "free": _kernel.free(cover, world, q, 0.02),
        "edges": _kernel.edge_free(cover, world, q[:-1], q[:-1] + 0.2 * (q[1:] - q[:-1]), 0.0, 0.01),
        "between": _kernel.between(cover, q[:33], arms.kernel_cover(limbs), q[33:90]),
        "closer": _kernel.closer(
            cover, q[:33], np.full(33, 0.1), arms.kernel_cover(limbs), q[33:90], np.full(57, 0.1), 0.05
        ),
        "ik": _kernel.ik(cover.arm, _kernel.fk(cover.arm, q[:50]))[0],
        "jacobian": _kernel.jacobian(cover.arm, q[:50]),
    }
    lines = np.random.default_rng(42)
    out["near"], out["far"] = _kernel.chords(
        lines.normal(size=(10, 6)), lines.normal(size=(6, 701)), lines.normal(size=(10, 701)),
        lines.uniform(0.5, 2.0, (5, 701)), most=9.0,
    )  # fmt: skip
    # Without own pairs: a folded elbow would cut the joint space in two.
    thin = _kernel.Cover(cover.arm, limbs.spheres, limbs.links)
    sparse = arms.kernel_world(arms.clutter(np.random.default_rng(41), 15))
    ends = q[_kernel.free(thin, sparse, q, 0.01)][:20].reshape(-1, 2, 6)
    for i, (start, goal) in enumerate(ends):
        search = _kernel.rrt_connect(thin, sparse, start, goal[None], seed=i, margin=0.01)
        out[f"counts {i}"] = np.array([search.iterations, search.nodes, search.edges, search.goal])
        if search.path is not None:
            out[f"path {i}"] = search.path
            out[f"short {i}"] = _kernel.shortcut(thin, sparse, search.path, seed=i, margin=0.01)
    return out


if __name__ == "__main__":
    np.savez(sys.argv[1], allow_pickle=False, **collect())
