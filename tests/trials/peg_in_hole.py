"""One insertion in contact: the support's commanded frame moves along a line, the part follows as contact
lets it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from tests.trials.peg_model import contact_model

from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.contact_shapes import RoundHole, RoundShaft
from handfast.trials.insertion_model import MEASURED, ContactSettings, Support

PENETRATION_ALLOWED = 0.2  # share of the radial clearance; deeper and the try says nothing about the fit
_ABOVE = 2e-4  # contact simulation begins this far above the mouth [m]
_SHORT = 2e-4  # going home counts as reached this close before the commanded depth [m]
_STILL = 5e-6  # or once the remaining travel is below this [m]


@dataclass(frozen=True, slots=True)
class PegInHole:
    """What is inserted and how.

    moving: which of the two the hand holds; T_fixed_start, T_fixed_home: commanded poses (4, 4) of the moving
    feature in the fixed feature's frame (both frames: z along the same way in, see docs/conventions.md), as
    they are in truth, errors included; speed [m/s]; force_limit [N] along the command; friction;
    T_fixed_seat: plane on which the moving hole's face comes to rest, z away from it.
    """

    hole: RoundHole
    shaft: RoundShaft
    moving: Literal["shaft", "hole"]
    T_fixed_start: Array
    T_fixed_home: Array
    support: Support
    speed: float
    force_limit: float
    friction: float
    T_fixed_seat: Array | None = None


@dataclass(frozen=True, slots=True)
class PegInHoleResult:
    """outcome, cause ("" if ok); depth: of the tip past the mouth [m]; offset [m], tilt [rad]: of the
    commanded axis at the mouth; peak_force [N] along the command; penetration: deepest, share of the radial
    clearance; valid: not too deep; T_fixed_moving: where it ended (4, 4); steps done."""

    outcome: Literal["ok", "failed"]
    cause: str
    depth: float
    offset: float
    tilt: float
    peak_force: float
    penetration: float
    valid: bool
    T_fixed_moving: Array
    steps: int


def insert_peg(task: PegInHole, settings: ContactSettings = MEASURED) -> PegInHoleResult:
    """Try it in contact. Deterministic. Raises ValueError for a shaft that is not smaller than its hole."""
    clearance = task.hole.radius - task.shaft.radius
    if clearance <= 0:
        raise ValueError(
            f"expected a shaft smaller than its hole, found a radial clearance of {clearance * 1e6:.1f} um"
        )
    T_start = _start_near_mouth(task)
    offset, tilt = _at_mouth(task)
    model = contact_model(
        task.hole, task.shaft, task.moving, T_start, task.support, task.friction, task.T_fixed_seat, settings
    )
    run = _Run(task, settings, T_start, model)
    run.go()
    depth, cause = engaged(task.moving, run.pose()), run.cause()
    share = run.deepest / clearance
    return PegInHoleResult("failed" if cause else "ok", cause, depth, offset, tilt, run.peak, share,
                           share <= PENETRATION_ALLOWED, run.pose(), run.steps)  # fmt: skip


def engaged(moving: Literal["shaft", "hole"], T_fixed_moving: Array) -> float:
    """How far the tip is past the mouth, along the hole's axis [m]."""
    T_hole_shaft = T_fixed_moving if moving == "shaft" else se3.inverse(T_fixed_moving)
    return float(T_hole_shaft[2, 3])


def _along(task: PegInHole, share: float) -> Array:
    T = np.array(task.T_fixed_home)
    T[:3, 3] += (share - 1) * (task.T_fixed_home[:3, 3] - task.T_fixed_start[:3, 3])
    return T


def _share_at(task: PegInHole, depth: float) -> float:
    first, last = engaged(task.moving, _along(task, 0.0)), engaged(task.moving, task.T_fixed_home)
    return (depth - first) / (last - first)


def _start_near_mouth(task: PegInHole) -> Array:
    # A tilted rim reaches the face before its centre does.
    reach = task.shaft.radius * math.sin(min(_tilt(task), 0.5)) + _ABOVE
    return _along(task, max(0.0, min(_share_at(task, -reach), 1.0)))


def _tilt(task: PegInHole) -> float:
    return math.acos(min(1.0, abs(float(task.T_fixed_home[2, 2]))))


def _at_mouth(task: PegInHole) -> tuple[float, float]:
    T = _along(task, _share_at(task, 0.0))
    T_hole_shaft = T if task.moving == "shaft" else se3.inverse(T)
    return float(np.hypot(T_hole_shaft[0, 3], T_hole_shaft[1, 3])), _tilt(task)


class _Run:
    """The stepped simulation of one insertion."""

    def __init__(self, task: PegInHole, settings: ContactSettings, T_start: Array, model: Any) -> None:
        import mujoco

        self._step, self._model, self._data = mujoco.mj_step, model, mujoco.MjData(model)
        self._task, self._settings, self._T_start = task, settings, T_start
        travel = T_start[:3, :3].T @ (task.T_fixed_home[:3, 3] - T_start[:3, 3])
        self._length = float(np.linalg.norm(travel))
        self._way = travel / self._length  # in the body's axes, in which the slides move
        self._stiffness = np.array(model.jnt_stiffness[:3])
        self._seat = model.geom("seat").id if task.T_fixed_seat is not None else -1
        self._lever = float(np.linalg.norm(task.support.T_feature_centre[:3, 3]))
        self._zone = task.hole.chamfer_depth + task.shaft.chamfer_depth - engaged(task.moving, T_start)
        self._per_step = settings.sideways_per_step * (task.hole.radius - task.shaft.radius)
        self.peak, self.deepest, self.steps, self.gone, self._over = 0.0, 0.0, 0, 0.0, False

    def go(self) -> None:
        """Until it is home, the force is too high, or the command is as far past home as the limit allows."""
        data, commanded = self._data, 0.0
        beyond = self._task.force_limit / self._task.support.axial * 1.05 + 1e-4
        data.qvel[:3] = self._speed() * self._way
        while commanded < self._length + beyond:
            speed, step = self._speed(), self._time_step()
            commanded += speed * step
            self._model.opt.timestep = step
            self._model.qpos_spring[:3] = commanded * self._way
            # Damping acts relative to the command, not to the world.
            data.qfrc_applied[:3] = self._model.dof_damping[:3] * speed * self._way
            self._step(self._model, data)
            self.steps += 1
            self.gone = float(data.qpos[:3] @ self._way)
            pulled = self._stiffness * (commanded * self._way - data.qpos[:3])
            self.peak = max(self.peak, float(pulled @ self._way))
            self._look_at_contacts()
            self._over = self.peak > self._task.force_limit
            if self._over or self._length - self.gone < _STILL:
                return

    def _speed(self) -> float:
        """Of the command. Slow over the chamfers: there the part goes sideways as fast as it goes in."""
        crossing = self.gone < self._zone
        return min(self._task.speed, self._settings.crossing_speed) if crossing else self._task.speed

    def _time_step(self) -> float:
        """So short that the part crosses only a little of the play in it: contact is seen a step late."""
        v = self._data.qvel
        sideways = math.hypot(v[0], v[1]) + math.hypot(v[3], v[4]) * self._lever
        if self.gone < self._zone:  # a chamfer turns the whole speed sideways at once
            sideways = max(sideways, self._speed())
        settings, step = self._settings, self._settings.step
        while step > settings.fine_step * 1.5 and sideways * step > self._per_step:
            step /= 2
        return step

    def _look_at_contacts(self) -> None:
        if self._data.ncon:
            contact = self._data.contact
            between = (contact.geom != self._seat).all(axis=1) if self._seat >= 0 else slice(None)
            depth = -contact.dist[between]
            if depth.size:
                self.deepest = max(self.deepest, float(depth.max()))

    def pose(self) -> Array:
        """T_fixed_moving now (4, 4)."""
        body = self._model.body("moving").id
        T_fixed_centre = se3.pose(self._data.xmat[body].reshape(3, 3), self._data.xpos[body])
        back = se3.pose(np.eye(3), -self._task.support.T_feature_centre[:3, 3])
        return np.asarray(T_fixed_centre @ back)

    def cause(self) -> str:
        """Why it is not home, "" if it is."""
        task, missing = self._task, self._length - self.gone
        if self._seated() or (missing < _SHORT and not self._over):
            return ""
        if not self._over:
            return f"not deep enough: {missing * 1e3:.2f} mm are missing"
        depth = engaged(task.moving, self.pose())
        if depth < 1e-4:
            return "missed the chamfer"
        if depth < task.hole.chamfer_depth + task.shaft.chamfer_depth:
            return "force limit on the chamfer"
        return "jammed: force limit inside the bore" if missing >= _SHORT else "force limit at depth"

    def _seated(self) -> bool:
        """Whether the face has come down on its seat, sooner or later than commanded."""
        seat = self._task.T_fixed_seat
        return seat is not None and self._over and float((se3.inverse(seat) @ self.pose())[2, 3]) < _SHORT
