"""Ways of going in other than straight, carried out in contact: model/strategy.py says what the hand does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from handfast.execution.cell import CellError
from handfast.model.strategy import RotateWhileLowering, Strategy
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.gear_teeth import GearTeeth
from handfast.trials.insertion import Inserted, Insertion, Pair

Solver = Callable[[Insertion], Inserted]


def insert_by(strategy: Strategy | None, task: Insertion, solver: Solver) -> Inserted:
    """The task, straight or by a strategy. Raises CellError for one that is not simulated."""
    if strategy is None:
        return solver(task)
    if isinstance(strategy, RotateWhileLowering):
        return _rotating(strategy, task, solver)
    raise CellError(f"the simulated cell cannot go in by {strategy.name!r} yet; plan without it")


def turns(strategy: RotateWhileLowering) -> Array:
    """The angles of all tries (tries,) [rad]."""
    half = (strategy.tries - 1) // 2
    return np.asarray(strategy.step * np.array([*range(half + 1), *(-k for k in range(1, half + 1))]))


def _rotating(strategy: RotateWhileLowering, task: Insertion, solver: Solver) -> Inserted:
    """Straight to above the teeth, then gently; where it is stopped, lifted, turned and let down again, until
    it drops."""
    meets = min(-task.engaged(p, task.T_start) for p in task.pairs if _meshes(task, p))
    above = min(max(meets - strategy.lift, 0.0), task.length)
    down = solver(replace(task, T_home=task.T_start + _along(task, above))) if above > 0 else None
    if down is not None and down.outcome != "ok":
        return down
    gently = replace(task, force_limit=min(strategy.force, task.force_limit))
    first = solver(gently if down is None else _from(gently, down, down.travel, 0.0))
    so_far = first if down is None else _after(down, first, down.travel)
    if first.outcome == "ok":
        return so_far
    teeth = [task.engaged(p, first.T_held, first.T_loose) for p in task.pairs if _meshes(task, p)]
    if max(teeth) >= strategy.drop:
        done = solver(_from(task, so_far, so_far.travel, 0.0))
        return _after(so_far, done, so_far.travel)
    lifted = max(0.0, so_far.travel - strategy.lift)
    for k, angle in enumerate(turns(strategy)[1:], 2):
        again = _from(gently, so_far, lifted, float(angle))
        found = solver(again)
        if found.outcome != "ok" and lifted + found.travel < so_far.travel + strategy.drop:
            continue
        done = found if found.outcome == "ok" else solver(replace(again, force_limit=task.force_limit))
        return replace(_after(so_far, done, lifted), searched=k / strategy.tries)
    return replace(so_far, searched=1.0)


def _meshes(task: Insertion, pair: Pair) -> bool:
    return isinstance(task.pieces[pair.inner].shape, GearTeeth)


def _along(task: Insertion, travel: float) -> Array:
    step = np.zeros((4, 4))
    step[:3, 3] = travel * task.way
    return step


def _after(first: Inserted, then: Inserted, travel: float) -> Inserted:
    """Both as one: `then` began where the command had gone `travel` [m]."""
    return replace(
        then, travel=travel + then.travel, offset=first.offset, tilt=first.tilt,
        peak_force=max(first.peak_force, then.peak_force), penetration=max(first.penetration,
        then.penetration), valid=first.valid and then.valid, steps=first.steps + then.steps,
        unsettled=first.unsettled + then.unsettled,
        felt=np.vstack([first.felt[first.felt[:, 0] <= travel], then.felt + np.array([travel, 0, 0, 0])]),
    )  # fmt: skip


def _from(task: Insertion, first: Inserted, travel: float, angle: float) -> Insertion:
    """The line from `travel` on, turned about the moving feature's axis, right-handed about the way in. The
    part stands as the first try left it, but lifted and turned; loose parts as that left them."""
    turn = se3.rotation(np.array([0.0, 0, 1]), angle * task.z_in)
    start, now = np.array(task.T_start), np.array(first.T_held)
    start[:3, 3] += travel * task.way
    now[:3, 3] -= (first.travel - travel) * task.way
    loose = tuple(replace(b, T_world_body=T) for b, T in zip(task.loose, first.T_loose, strict=True))
    return replace(task, T_start=start @ turn, T_home=task.T_home @ turn, loose=loose, T_now=now @ turn)
