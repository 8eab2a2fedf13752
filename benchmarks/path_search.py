"""Path search: the kernel's RRT-Connect and shortcuts against OMPL's, on the same problems in the same run.

OMPL judges with pinocchio + coal and the fastest broad-phase manager, on exact shapes with the planner's
clearance as margin; its steps between samples are as fine as the kernel's in the median. Every path of either
is then checked by the same criterion: exact shapes, no contact, samples no farther apart than the kernel's
bound allows.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from measured.cell import HAND, ExactCell, KernelCell, kernel_cell
from measured.results import keep, spread, table
from numpy.typing import NDArray

from handfast import _kernel
from handfast.kinematics.inverse import inverse
from handfast.planning.connect import RESOLUTION
from handfast.spatial import se3

PROBLEMS, AS_THEY_COME = 50, 10
CAP_S = 5.0  # of one search by OMPL
ITERATIONS = 20_000
STRIDE = 0.6  # longest step of either tree [rad]
Array = np.ndarray


@dataclass(frozen=True)
class Run:
    """One problem done by one side: path or None, seconds for the search and for the shortcuts."""

    path: Array | None
    search_s: float
    shortcut_s: float


def problems(cell: KernelCell, exact: ExactCell, need: float) -> list[tuple[Array, Array]]:
    """Pairs free by both criteria, by turns between any postures and between places low over the table with
    the hand down, as a plan has them; the first ten as they come, the rest with no straight line."""
    rng = np.random.default_rng(7)
    out: list[tuple[Array, Array]] = []
    while len(out) < PROBLEMS:
        draw = _any if len(out) % 2 else _over_the_table
        a, b = draw(cell, rng), draw(cell, rng)
        if a is None or b is None or not _kernel.free(cell.cover, cell.world, np.stack([a, b]), need).all():
            continue
        if exact.hit(a) or exact.hit(b) or (len(out) >= AS_THEY_COME and _straight(cell, a, b, need)):
            continue
        out.append((a, b))
    return out


def _any(cell: KernelCell, rng: np.random.Generator) -> Array | None:
    return np.asarray(rng.uniform(cell.arm.lo, cell.arm.hi))


def _over_the_table(cell: KernelCell, rng: np.random.Generator) -> Array | None:
    hand = cell.ws.hands[HAND]
    down = se3.translation(*rng.uniform((-0.35, 0.25, 0.05), (0.6, 0.6, 0.25))) @ se3.rotation(
        np.array([1.0, 0, 0]), np.pi
    )
    q, valid = inverse(
        hand.chain, hand.tip_for(down @ se3.rotation(np.array([0, 0, 1.0]), rng.uniform(-3, 3)))[None]
    )
    found: list[Array] = list(q[0][valid[0]])
    return found[int(rng.integers(len(found)))] if len(found) else None


def by_kernel(cell: KernelCell, start: Array, goal: Array, need: float) -> Run:
    began = time.perf_counter()
    found = _kernel.rrt_connect(cell.cover, cell.world, start, goal[None], iterations=ITERATIONS, seed=7,
                                margin=need, resolution=RESOLUTION, stride=STRIDE)  # fmt: skip
    middle = time.perf_counter()
    if found.path is None:
        return Run(None, middle - began, 0.0)
    path = _kernel.shortcut(cell.cover, cell.world, found.path, seed=7, margin=need, resolution=RESOLUTION)
    return Run(path, middle - began, time.perf_counter() - middle)


def by_ompl(exact: ExactCell, lower: Array, upper: Array, step: float) -> Callable[[Array, Array], Run]:
    from ompl import base, geometric, util

    util.setLogLevel(util.LOG_NONE)
    util.RNG.setSeed(7)
    n = len(lower)
    space = base.RealVectorStateSpace(n)
    bounds = base.RealVectorBounds(n)
    for i in range(n):
        bounds.setLow(i, float(lower[i]))
        bounds.setHigh(i, float(upper[i]))
    space.setBounds(bounds)
    q = np.zeros(n)

    def valid(state: Any) -> bool:
        for i in range(n):
            q[i] = state[i]
        return not exact.hit(q)

    def run(start: Array, goal: Array) -> Run:
        setup = geometric.SimpleSetup(space)
        info = setup.getSpaceInformation()
        setup.setStateValidityChecker(valid)
        info.setStateValidityCheckingResolution(step / space.getMaximumExtent())
        planner = geometric.RRTConnect(info)
        planner.setRange(STRIDE)
        setup.setPlanner(planner)
        ends = [space.allocState(), space.allocState()]
        for end, values in zip(ends, (start, goal), strict=True):
            for i in range(n):
                end[i] = float(values[i])
        setup.setStartAndGoalStates(*ends)
        began = time.perf_counter()
        setup.solve(CAP_S)
        middle = time.perf_counter()
        if not setup.haveExactSolutionPath():
            return Run(None, middle - began, 0.0)
        path, simplifier = setup.getSolutionPath(), geometric.PathSimplifier(info)
        simplifier.reduceVertices(path)
        simplifier.partialShortcutPath(path, 200)
        ended = time.perf_counter()
        rows = np.array([[path.getState(k)[i] for i in range(n)] for k in range(path.getStateCount())])
        return Run(rows, middle - began, ended - middle)

    return run


def length(path: Array) -> float:
    """Euclidean [rad]."""
    return float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())


def holds(cell: KernelCell, exact: ExactCell, path: Array) -> bool:
    """No contact of exact shapes along a path, samples no farther apart than RESOLUTION for any sphere."""
    for a, b in pairwise(path):
        count = int(np.ceil(_kernel.travel(cell.cover, a[None], b[None])[0] / RESOLUTION)) + 1
        if any(exact.hit(a + s * (b - a)) for s in np.linspace(0, 1, count)):
            return False
    return True


def _straight(cell: KernelCell, a: Array, b: Array, need: float) -> bool:
    """Whether the straight joint line is free, which the kernel tries first."""
    return bool(_kernel.edge_free(cell.cover, cell.world, a[None], b[None], need, RESOLUTION)[0])


def compared(
    which: str, cell: KernelCell, exact: ExactCell, runs: dict[str, list[Run]], chosen: NDArray[np.intp]
) -> dict[str, Any]:
    """Figures of both sides over some of the problems, and their ratios; printed too."""
    sides = {who: _figures(cell, exact, [done[i] for i in chosen]) for who, done in runs.items()}
    print(f"{which}: {len(chosen)} problems")
    head = ("", "found", "hold", "search ms, median", "p95", "with shortcuts, median", "p95", "length rad")
    table(head, [_row(who, len(chosen), side) for who, side in sides.items()])
    ours, theirs = sides["kernel"], sides["ompl"]
    ratios = {
        f"{what}_{share}": round(theirs[what][share] / ours[what][share], 1)
        for what in ("search_ms", "with_shortcuts_ms")
        for share in ("median", "p95")
    }
    print("  RATIO ompl to kernel: " + ", ".join(f"{k} {v}" for k, v in ratios.items()))
    return {**sides, "ratios_ompl_to_kernel": ratios}


def _figures(cell: KernelCell, exact: ExactCell, done: list[Run]) -> dict[str, Any]:
    paths = [r.path for r in done if r.path is not None]
    return {
        "found": len(paths),
        "hold": sum(holds(cell, exact, p) for p in paths),
        "search_ms": spread([1e3 * r.search_s for r in done]),
        "with_shortcuts_ms": spread([1e3 * (r.search_s + r.shortcut_s) for r in done]),
        "length_rad": spread([length(p) for p in paths]),
    }


def _row(who: str, of: int, side: dict[str, Any]) -> tuple[Any, ...]:
    search, both = side["search_ms"], side["with_shortcuts_ms"]
    found, hold = f"{side['found']}/{of}", f"{side['hold']}/{side['found']}"
    times = (search["median"], search["p95"], both["median"], both["p95"])
    return who, found, hold, *times, side["length_rad"]["median"]


def main() -> None:
    try:
        import ompl  # noqa: F401
    except ImportError:
        print("ompl is absent: nothing to compare with (it is in the `bench` extra)")
        return
    cell = kernel_cell(busy=True)
    need = cell.ws.margin + RESOLUTION / 2
    margined, touching = ExactCell(cell, cell.ws.margin, "Naive"), ExactCell(cell, 0.0, "Naive")
    pairs = problems(cell, margined, need)
    lever = np.median(
        [_kernel.travel(cell.cover, a[None], b[None])[0] / np.linalg.norm(b - a) for a, b in pairs]
    )
    step = float(RESOLUTION / lever)
    other = by_ompl(margined, cell.arm.lo, cell.arm.hi, step)
    runs = {"kernel": [by_kernel(cell, *p, need) for p in pairs], "ompl": [other(*p) for p in pairs]}
    easy = np.array([_straight(cell, *p, need) for p in pairs])
    figures: dict[str, Any] = {"problems": len(pairs), "straight": int(easy.sum()), "ompl_step_rad": step}
    for which, chosen in (("all", easy | True), ("no straight line", ~easy)):
        figures[which] = compared(which, cell, touching, runs, np.flatnonzero(chosen))
    keep("path_search", figures)


if __name__ == "__main__":
    main()
