"""Where arms and holders would stand better."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import islice
from typing import Literal

import numpy as np

from handfast.model.layout_measures import Measures
from handfast.model.project import Project
from handfast.planning.change import swapped
from handfast.planning.improve import timed
from handfast.planning.layout.ground import Ground, poses_of
from handfast.planning.layout.measure import Bench
from handfast.planning.search import search
from handfast.planning.stuck import Stuck
from handfast.planning.workspace import make_workspace
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

Kind = Literal["arm", "holder"]
Progress = Callable[[str, int, int], None]
_UP = np.array([0.0, 0.0, 1.0])
_WIDE, _NARROW = 0.25, 0.02  # how far things are moved at the beginning and at the end [m]
_ROUND = 0.005  # positions are multiples of this [m]
_TURN = np.deg2rad(15.0)
_WORTH = 0.05  # a move that saves less is not made [s]
_LOOKS, _DRAWS = (
    10,
    400,
)  # layouts measured before one is planned in, and drawn to find as many that have room


@dataclass(frozen=True, eq=False, slots=True)
class Candidate:
    """A layout, its measures, and what planning in it gave: the cycle, one hand at a time [s], infinite if
    there is no plan; refusal: why there is none."""

    layout: Project
    measures: Measures
    cycle_s: float
    refusal: str = ""

    @property
    def cost(self) -> float:
        """By which layouts are compared [s]."""
        return self.measures.cost(self.layout.clearance, self.cycle_s)


def tried(bench: Bench, layout: Project, seed: int, rounds: int | None = None) -> Candidate:
    """A layout measured, and the product planned in it. rounds: of the search at most, fewer than its own."""
    measures = bench.measure(layout)
    if measures.undone:
        return Candidate(
            layout, measures, np.inf, f"no hand, or pair of hands, can do {', '.join(measures.undone)}"
        )
    ws = make_workspace(layout, bench.ws)
    if rounds is not None:
        ws = replace(ws, caps=replace(ws.caps, rounds=rounds))
    found = search(ws, seed=seed)
    if isinstance(found, Stuck):
        cause = found.no.causes[0] if found.no.causes else None
        return Candidate(layout, measures, np.inf, f"{found.no.mate}: {cause.cause if cause else 'no plan'}")
    return Candidate(layout, measures, timed(ws, found, tuple(ws.hands), False, seed).makespan)


def better_layouts(
    bench: Bench,
    ground: Ground,
    first: Candidate,
    *,
    work: int,
    seed: int,
    keep: frozenset[str] = frozenset(),
    progress: Progress | None = None,
) -> tuple[Candidate, ...]:
    """The first layout, and each found that costs less than all before it, the best last.

    One arm or holder is moved, turned or swapped with another, by less and less; of a few such layouts the
    one with the best measures is planned in, and kept if it costs less. work: layouts that are planned in;
    equal work and seed, equal answers. keep: names of arms and holders that stay where they are.
    progress(words, tried, work).
    """
    rng = np.random.default_rng(seed)
    found = [first]
    at = poses_of(first.layout)
    movable = [n for n, T in at.items() if T[2, 2] > 1 - 1e-9 and n not in keep]
    holders = {h.name for h in first.layout.cell.holders}
    for n in range(work if movable else 0):
        best = found[-1]
        if progress is not None:
            so_far = f"{best.cost:.1f} s to compare by" if np.isfinite(best.cost) else "no plan"
            progress(f"{so_far}, {len(found) - 1} better layouts so far", n, work)
        reach = _WIDE * (_NARROW / _WIDE) ** (n / max(work - 1, 1))
        draws = (_moved(best.layout, movable, holders, reach, rng) for _ in range(_DRAWS))
        room = list(islice((d for d in draws if ground.fits(d)), _LOOKS))
        if not room:
            continue
        likely = min(room, key=lambda d: bench.measure(d).cost(d.clearance))
        new = tried(bench, likely, seed)
        if new.cost < best.cost - _WORTH:
            found.append(new)
    return tuple(found)


def _moved(
    layout: Project, movable: list[str], holders: set[str], reach: float, rng: np.random.Generator
) -> Project:
    """One thing elsewhere, or two holders in each other's place."""
    name = movable[rng.integers(len(movable))]
    at = poses_of(layout)
    others = [m for m in movable if m in holders and m != name]
    if name in holders and others and rng.random() < 0.1:
        other = others[rng.integers(len(others))]
        a, b = at[name].copy(), at[other].copy()
        a[:2, 3], b[:2, 3] = at[other][:2, 3], at[name][:2, 3]
        return put(put(layout, name, a), other, b)
    T = at[name].copy()
    T[:2, 3] = np.round((T[:2, 3] + rng.uniform(-reach, reach, 2)) / _ROUND) * _ROUND
    if rng.random() < 0.3:
        steps = 1 + rng.integers(max(1, round(np.pi * reach / _WIDE / _TURN)))
        T[:3, :3] = se3.so3_exp(_UP * _TURN * steps * rng.choice((-1, 1))) @ T[:3, :3]
    return put(layout, name, T)


def put(project: Project, name: str, T_world: Array) -> Project:
    """The project with an arm or a holder standing elsewhere."""
    cell, pose = project.cell, Pose.from_matrix(T_world)
    for arm in (a for a in cell.arms if a.name == name):
        cell = replace(cell, arms=swapped(cell.arms, replace(arm, base=pose)))
    for holder in (h for h in cell.holders if h.name == name):
        cell = replace(cell, holders=swapped(cell.holders, replace(holder, pose=pose)))
    return replace(project, cell=cell)


def differences(before: Project, after: Project) -> tuple[tuple[Kind, str, Pose], ...]:
    """What stands elsewhere, and where: arms, then holders."""
    old = {("arm", a.name): a.base for a in before.cell.arms}
    old |= {("holder", h.name): h.pose for h in before.cell.holders}
    new: list[tuple[Kind, str, Pose]] = [("arm", a.name, a.base) for a in after.cell.arms]
    new += [("holder", h.name, h.pose) for h in after.cell.holders]
    return tuple(n for n in new if old.get(n[:2]) != n[2])
