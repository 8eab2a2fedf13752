"""Microseconds a configuration: the kernel's covers against exact shapes in pinocchio with coal."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
from measured.cell import MANAGERS, Array, ExactCell, kernel_cell, same_arm
from measured.results import keep, table

from handfast import _kernel

COUNT = 20_000
EXACT = 1_000  # of these also with exact shapes


def best(what: Callable[[], Any], count: int, times: int = 3) -> float:
    """Microseconds a configuration, the best of some runs."""
    took = []
    for _ in range(times):
        began = time.perf_counter()
        what()
        took.append(time.perf_counter() - began)
    return 1e6 * min(took) / count


def _hits(cell: ExactCell, q: Array) -> list[bool]:
    return [cell.hit(row) for row in q]


def main() -> None:
    cell = kernel_cell()
    q = np.random.default_rng(7).uniform(cell.arm.lo, cell.arm.hi, (COUNT, cell.arm.n))
    few = q[:EXACT]
    free = _kernel.free(cell.cover, cell.world, q)
    poses = _kernel.fk(cell.arm, q)
    rows = {
        "kernel, free or not": best(lambda: _kernel.free(cell.cover, cell.world, q), COUNT),
        "kernel, clearance": best(lambda: _kernel.clearance(cell.cover, cell.world, q), COUNT),
        "kernel, inverse kinematics, all branches": best(lambda: _kernel.ik(cell.arm, poses), COUNT),
    }
    exact = ExactCell(cell, 0.0, None)
    same_arm(cell, exact, few)
    plain = np.array([exact.hit(row) for row in few])
    rows["pinocchio + coal, pair after pair"] = best(lambda: [exact.hit(row) for row in few], EXACT, 1)
    for name in MANAGERS:
        managed = ExactCell(cell, 0.0, name)
        if not np.array_equal([managed.hit(row) for row in few], plain):
            raise ValueError(f"the {name} manager answers otherwise than pair after pair")
        rows[f"pinocchio + coal, {name} manager"] = best(partial(_hits, managed, few), EXACT)
    missed = int((free[:EXACT] & plain).sum())
    if missed:
        raise ValueError(f"the kernel called {missed} configurations free that collide")
    fastest = min(us for name, us in rows.items() if name.endswith("manager"))
    ours = rows["kernel, free or not"]
    print(f"{exact.pairs} pairs of {exact.shapes} shapes; kernel: {cell.cover.count} spheres against "
          f"{cell.world.count} shapes at level {_kernel.level()}")  # fmt: skip
    table(
        ("a configuration", "us", "times the kernel"),
        [(name, us, f"{us / ours:.1f}") for name, us in rows.items()],
    )
    lost = float((~free[:EXACT] & ~plain).sum() / max(1, (~plain).sum()))
    print(f"  of {EXACT} random ones {int((~plain).sum())} are free; the covers see {100 * lost:.1f} % "
          f"of these as not free, and none that collides as free")  # fmt: skip
    print(f"  RATIO kernel to the fastest broad-phase manager: {fastest / ours:.1f} times faster")
    figures = {
        "us": {k: round(v, 3) for k, v in rows.items()},
        "ratio_fastest_manager": round(fastest / ours, 2),
    }
    keep("configurations", {**figures, "pairs": exact.pairs, "covers_lose_share": round(lost, 4)})


if __name__ == "__main__":
    main()
