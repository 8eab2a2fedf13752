"""A chart of first-fit made by hand: inverse kinematics by least squares, straight joint motions, stop to
stop.

Nothing here comes from the package's own planner or kinematics; the arms are read by pinocchio.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import pinocchio as pin

from handfast.files.project_reader import read_project
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.grasp import Grasp
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.model.scene import Attachment, Scene
from handfast.spatial import se3
from handfast.spatial.pose import Pose

FOLDER = Path(__file__).parents[2] / "projects" / "first-fit"
Array = se3.Array


def first_fit() -> Project:
    """The project as its files have it."""
    project, findings = read_project(FOLDER)
    assert project is not None, findings
    return project


def trapezoid(q0: Array, q1: Array, arm: str, speed: Array, acceleration: Array) -> Motion:
    """Straight from q0 to q1: speed up, cruise, slow down, every joint in step."""
    away = q1 - q0
    largest = np.maximum(np.abs(away), 1e-12)
    v, a = float(np.min(speed / largest)), float(np.min(acceleration / largest))
    ramp = min(v / a, a**-0.5)
    cruise = max(1 / (a * ramp) - ramp, 0.0)
    top = a * ramp
    shares = [0.0, a * ramp**2 / 2, 1 - a * ramp**2 / 2, 1.0]
    times, rates = [0.0, ramp, ramp + cruise, 2 * ramp + cruise], [0.0, top, top, 0.0]
    if cruise < 1e-9:
        times, shares, rates = [0.0, ramp, 2 * ramp], [0.0, 0.5, 1.0], [0.0, top, 0.0]
    q = tuple(tuple(float(x) for x in q0 + s * away) for s in shares)
    knots = tuple(tuple(float(x) for x in r * away) for r in rates)
    return Motion(arm, "free", tuple(times), q, knots)


class Hand:
    """One arm: its own way to pinocchio."""

    def __init__(self, project: Project, name: str) -> None:
        arm = project.cell.arm(name)
        self.name = name
        self.model: Any = pin.buildModelFromUrdf(str(FOLDER / arm.urdf))
        self.data = self.model.createData()
        self.tip = self.model.getFrameId(arm.tip)
        self.base = arm.base.matrix
        self.mount = project.cell.gripper_of(name).mount.matrix
        self.q = np.array(arm.home)
        self.speed = 0.99 * arm.speed * np.array(self.model.velocityLimit)
        self.acceleration = 0.99 * np.array(arm.max_acceleration)

    def grip(self, q: Array) -> Array:
        """T_world_grip."""
        pin.framesForwardKinematics(self.model, self.data, q)
        return np.asarray(self.base @ self.data.oMf[self.tip].homogeneous @ self.mount)

    def reach(self, T_world_grip: Array, seed: Array, spread: float = 0.0) -> Array:
        """Joint angles that bring the grip frame there, near a seed. Damped least squares, restarted as
        needed."""
        rng = np.random.default_rng(7)
        goal = pin.SE3(se3.inverse(self.base) @ T_world_grip @ se3.inverse(self.mount))
        for attempt in range(200):
            q = np.array(seed) + rng.normal(0, spread + 0.15 * (attempt > 0) * (1 + attempt / 20), len(seed))
            for _ in range(100):
                pin.framesForwardKinematics(self.model, self.data, q)
                error = pin.log6(self.data.oMf[self.tip].actInv(goal)).vector
                if np.linalg.norm(error) < 1e-11:
                    break
                J = pin.computeFrameJacobian(self.model, self.data, q, self.tip, pin.LOCAL)
                step = np.linalg.solve(J.T @ J + 1e-10 * np.eye(len(q)), J.T @ error)
                q = q + step * min(1.0, 0.5 / max(np.abs(step).max(), 1e-12))
            low, high = self.model.lowerPositionLimit, self.model.upperPositionLimit
            if np.linalg.norm(error) < 1e-10 and np.all(q > low) and np.all(q < high):
                return np.asarray(q)
        raise AssertionError(f"{self.name} cannot reach {T_world_grip}")


@dataclass
class ByHand:
    """A chart in the making: one hand works at a time."""

    project: Project
    hands: dict[str, Hand] = field(default_factory=dict)
    elements: list[Element] = field(default_factory=list)
    now: float = 0.0

    def __post_init__(self) -> None:
        self.hands = {arm.name: Hand(self.project, arm.name) for arm in self.project.cell.arms}

    def add(self, hand: str, kind: Any, item: str, duration: float, **more: Any) -> Element:
        """One element, after all others."""
        number = len(self.elements) + 1
        target, mate = more.pop("target", ""), more.pop("mate", "")
        element = Element(
            f"{number:02d}-{kind}-{hand}", number, hand, kind, item, target, mate,
            self.now, duration, **more,
        )  # fmt: skip
        self.elements.append(element)
        self.now += duration
        return element

    def free(self, hand: str, *goals: Array, seeds: Any = None) -> tuple[Motion, ...]:
        """Straight joint motions through grip poses."""
        out = []
        own = self.hands[hand]
        for goal in goals:
            q = own.reach(goal, own.q if seeds is None else seeds)
            out.append(trapezoid(own.q, q, hand, own.speed, own.acceleration))
            own.q = q
        return tuple(out)

    def joints(self, hand: str, q: Any) -> tuple[Motion, ...]:
        """One straight joint motion."""
        own = self.hands[hand]
        motion = trapezoid(own.q, np.array(q), hand, own.speed, own.acceleration)
        own.q = np.array(q)
        return (motion,)

    def line(self, hand: str, goal: Array, step: float = 5e-3) -> tuple[Motion, ...]:
        """A line of the grip frame, its orientation kept, as short straight joint motions."""
        start = self.hands[hand].grip(self.hands[hand].q)
        count = max(int(np.ceil(np.linalg.norm(goal[:3, 3] - start[:3, 3]) / step)), 1)
        poses = []
        for k in range(1, count + 1):
            pose = goal.copy()
            pose[:3, 3] = start[:3, 3] + (goal[:3, 3] - start[:3, 3]) * k / count
            poses.append(pose)
        return self.free(hand, *poses)

    def chart(self, openings: dict[str, float]) -> Chart:
        """What has been added, from the project's own start."""
        attachments = tuple(
            Attachment(place.holds, f"place.{holder.name}.{place.name}", Pose())
            for holder in self.project.cell.holders
            for place in holder.places
            if place.holds
        )
        return Chart(
            project=self.project.name,
            hands=tuple(self.hands),
            start=Scene(attachments, tuple(openings.items())),
            elements=tuple(self.elements),
            mates=tuple(mate.name for mate in self.project.product.mates),
            makespan_s=self.now,
            lower_bound_s=0.0,
        )


def grasp(
    hand: str, item: str, T_grip_item: Array, width: float, zone: str, features: tuple[str, ...]
) -> Grasp:
    """A grasp record."""
    closed = (False, True, False, True, False, True)
    pose = Pose.from_matrix(T_grip_item)
    return Grasp(f"{hand}_gripper", item, pose, width, features, zone, closed, 20.0, 0.2)


def duration(motions: tuple[Motion, ...], more: float = 0.0) -> float:
    """How long motions take, and something more [s]."""
    return sum(motion.duration for motion in motions) + more


def with_element(chart: Chart, number: int, **changes: Any) -> Chart:
    """The chart with one element changed."""
    return replace(
        chart, elements=tuple(replace(e, **changes) if e.number == number else e for e in chart.elements)
    )
