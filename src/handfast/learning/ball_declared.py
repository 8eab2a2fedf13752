"""What the project declares of readings of a ball: noise, what the jaws are off by, the arms' fields."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from handfast.learning.ball_model import Slopes
from handfast.learning.ball_readings import BallReading
from handfast.model.error_source import ErrorSource
from handfast.model.project import Project
from handfast.spatial import se3
from handfast.spatial.se3 import Array

LENGTH = 0.2
"""Correlation length of an arm's field where none is declared [m]: the middle of what is common."""


def noise(project: Project, readings: Sequence[BallReading], at: Sequence[Slopes]) -> Array:
    """Covariance (m, m) of the mean readings [m2] from what changes with each touch."""
    each = [
        sum(v for _, v in cycle_parts(project, r, s)) / r.count for r, s in zip(readings, at, strict=True)
    ]
    return np.diag(np.array(each))


def cycle_parts(project: Project, reading: BallReading, at: Slopes) -> list[tuple[str, float]]:
    """The sources that change with each touch, with their share of one reading's variance [m2]."""
    out = []
    for source in project.errors:
        sigma = np.array(source.sigma)
        if source.changes == "cycle" and source.acts_on == f"touch.{reading.arm}" and sigma[0] > 0:
            out.append((source.name, float(sigma[0] ** 2)))
        if source.changes == "cycle" and source.acts_on == f"arm.{reading.arm}.tip":
            out.append((source.name, float(((at.tip * sigma) ** 2).sum())))
    return out


def fields(project: Project, arm: str) -> list[ErrorSource]:
    """The sources that are smooth fields of an arm."""
    return [s for s in project.errors if s.acts_on == f"arm.{arm}.tip" and s.correlation_length > 0]


def field(project: Project, readings: Sequence[BallReading], at: Sequence[Slopes]) -> Array:
    """Covariance (m, m) of the readings [m2] from the arms' fields as declared."""
    out = np.zeros((len(readings), len(readings)))
    for arm in {r.arm for r in readings}:
        for source in fields(project, arm):
            out += _of_field(readings, at, arm, np.array(source.sigma), source.correlation_length)
    return out


def unit_field(readings: Sequence[BallReading], at: Sequence[Slopes]) -> Array:
    """The same (m, m) for fields of every arm of 1 m along each axis, where none is declared."""
    unit = np.array([1.0, 1, 1, 0, 0, 0])
    return np.asarray(sum(_of_field(readings, at, a, unit, LENGTH) for a in {r.arm for r in readings}))


def _of_field(
    readings: Sequence[BallReading], at: Sequence[Slopes], arm: str, sigma: Array, length: float
) -> Array:
    mine = np.array([r.arm == arm for r in readings], dtype=float)
    rows = np.array([s.tip for s in at]) * sigma * mine[:, None]
    places = np.array([r.T_world_tip[:3, 3] for r in readings])
    apart = np.linalg.norm(places[:, None] - places[None], axis=2)
    return np.asarray((rows @ rows.T) * np.exp(-0.5 * (apart / length) ** 2))


def jaws(project: Project, arm: str) -> Array:
    """Covariance (6, 6) of where jaws stand, constant while they stay closed: what they close to, and what
    the arm's tip is off by everywhere alike, in the grip frame."""
    gripper = project.cell.gripper_of(arm)
    carry = se3.adjoint(se3.inverse(gripper.mount.matrix))
    out = np.zeros((6, 6))
    for source in project.errors:
        own = np.diag(np.array(source.sigma) ** 2)
        if source.acts_on == f"gripper.{gripper.name}.jaw":
            out += own
        elif (
            source.acts_on == f"arm.{arm}.tip" and source.changes != "cycle" and not source.correlation_length
        ):
            out += carry @ own @ carry.T
    return out


def base(project: Project, arm: str, other: str) -> Array:
    """Covariance (6, 6) of where an arm stands from another, in the root frame of the first."""
    T = se3.inverse(project.cell.arm(arm).base.matrix) @ project.cell.arm(other).base.matrix
    carry = se3.adjoint(T)
    own, theirs = _on(project, f"arm.{arm}.base"), carry @ _on(project, f"arm.{other}.base") @ carry.T
    return own if project.cell.arm(arm).measured_from == other else np.asarray(own + theirs)


def _on(project: Project, edge: str) -> Array:
    return np.diag(sum((np.array(s.sigma) ** 2 for s in project.errors if s.acts_on == edge), np.zeros(6)))
