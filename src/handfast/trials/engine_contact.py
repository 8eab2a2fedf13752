"""The same tasks, stepped in the physics engine: slow, for a sample."""

from __future__ import annotations

import math

import numpy as np

from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.contact_shapes import RoundShaft
from handfast.trials.engine_model import EngineModel
from handfast.trials.gear_teeth import GearTeeth
from handfast.trials.insertion import (
    PENETRATION_ALLOWED,
    Inserted,
    Insertion,
    Pair,
    cause_of,
)
from handfast.trials.insertion_model import MEASURED, ContactSettings

_ABOVE = 3e-4  # contact simulation begins this far above the first mouth [m]
_STILL = 5e-6  # home once the remaining travel is below this [m]


def insert_in_engine(task: Insertion, settings: ContactSettings = MEASURED) -> Inserted:
    """Try it in contact. Deterministic."""
    run = _Run(task, settings)
    run.go()
    T_held, T_loose = run.poses()
    cause = cause_of(task, run.length - run.gone, run.over, T_held, T_loose)
    offset, tilt = task.at_mouth()
    return Inserted(
        "failed" if cause else "ok", cause, run.before + run.gone, offset, tilt, run.peak, run.share,
        run.share <= PENETRATION_ALLOWED, T_held, T_loose, 0.0, run.steps,
    )  # fmt: skip


class _Run:
    """The stepped simulation of one insertion."""

    def __init__(self, task: Insertion, settings: ContactSettings) -> None:
        self.task, self.settings = task, settings
        T_begin = self._begin()
        self.before = float(np.linalg.norm(T_begin[:3, 3] - task.T_start[:3, 3]))
        self.length = task.length - self.before
        built = EngineModel(task, T_begin, settings)
        self.mujoco, self.model, self.piece_of = built.mujoco, built.model, built.piece_of
        self.data = self.mujoco.MjData(self.model)
        self.way = T_begin[:3, :3].T @ task.way
        self.stiffness = np.array(self.model.jnt_stiffness[:3])
        pieces = [self.piece_of[self.model.geom(i).name] for i in range(self.model.ngeom)]
        self.pieces = np.array(pieces)
        self.clearance = {frozenset((p.inner, p.outer)): p.clearance for p in task.pairs}
        tight = [p.clearance for p in task.pairs if p.clearance > 0]
        self.per_step = settings.sideways_per_step * min(tight, default=1e-4)
        self.lever = float(np.linalg.norm(task.support.T_feature_centre[:3, 3]))
        pairs = [p for p in task.pairs if not p.own]
        self.slow = [(p, self.task.crossing(p)) for p in pairs]
        self.starts = [self.task.engaged(p, T_begin) for p in pairs]
        self.peak = self.share = self.gone = 0.0
        self.steps, self.over = 0, False

    def _begin(self) -> Array:
        task = self.task
        pairs = [p for p in task.pairs if not p.own]
        tilt = math.acos(min(1.0, max(abs(float(task.way @ task.T_start[:3, 2])), 0.5)))
        reach = [-task.engaged(p, task.T_start) - _ABOVE - _reach(task, p) * math.sin(tilt) for p in pairs]
        T = np.array(task.T_start)
        T[:3, 3] += (
            max(0.0, min(*reach, task.length) if len(reach) > 1 else min(reach[0], task.length)) * task.way
        )
        return T

    def go(self) -> None:
        """Until it is home, the force is too high, or the command is as far past home as the limit allows."""
        data, model, commanded = self.data, self.model, 0.0
        beyond = self.task.force_limit / self.task.support.axial * 1.05 + 1e-4
        data.qvel[:3] = self._speed() * self.way
        while commanded < self.length + beyond:
            speed, step = self._speed(), self._time_step()
            commanded += speed * step
            model.opt.timestep = step
            model.qpos_spring[:3] = commanded * self.way
            data.qfrc_applied[:3] = (
                model.dof_damping[:3] * speed * self.way
            )  # damping acts relative to the command
            self.mujoco.mj_step(model, data)
            self.steps += 1
            self.gone = float(data.qpos[:3] @ self.way)
            pulled = self.stiffness * (commanded * self.way - data.qpos[:3])
            self.peak = max(self.peak, float(pulled @ self.way))
            if data.ncon:
                self._look()
            self.over = self.peak > self.task.force_limit
            if self.over or self.length - self.gone < _STILL:
                return

    def _crossing(self) -> bool:
        return any(
            -_ABOVE < start + self.gone < zone + 2e-4
            for (_, zone), start in zip(self.slow, self.starts, strict=True)
        )

    def _speed(self) -> float:
        return min(self.task.speed, self.settings.crossing_speed) if self._crossing() else self.task.speed

    def _time_step(self) -> float:
        v = self.data.qvel
        sideways = math.hypot(v[0], v[1]) + math.hypot(v[3], v[4]) * self.lever
        if self._crossing():
            sideways = max(sideways, self._speed())
        step = self.settings.step
        while step > self.settings.fine_step * 1.5 and sideways * step > self.per_step:
            step /= 2
        return step

    def _look(self) -> None:
        contact = self.data.contact
        pieces = self.pieces[contact.geom]
        for (a, b), distance in zip(pieces, contact.dist, strict=True):
            play = self.clearance.get(frozenset((int(a), int(b))), 0.0)
            if play > 0 and -distance > self.share * play:
                self.share = float(-distance / play)

    def poses(self) -> tuple[Array, tuple[Array, ...]]:
        """T_held and T_loose (4, 4)."""
        back = se3.translation(*(-self.task.support.T_feature_centre[:3, 3]))
        found = []
        for name in ("held", *(f"loose{k}" for k in range(len(self.task.loose)))):
            body = self.model.body(name).id
            found.append(se3.pose(self.data.xmat[body].reshape(3, 3), self.data.xpos[body]))
        return np.asarray(found[0] @ back), tuple(found[1:])


def _reach(task: Insertion, pair: Pair) -> float:
    shape = task.pieces[pair.inner].shape
    return (
        shape.radius if isinstance(shape, RoundShaft) else shape.tip if isinstance(shape, GearTeeth) else 0.0
    )
