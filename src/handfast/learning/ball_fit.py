"""Where arms stand to each other, from balls that all of them touched: weighted least squares.

Unknown are the bases of all arms but the first (b, in their root frames), where the jaws of each hand stand
(j, in the grip frame, anew in each log) and where each ball stands. The covariance of the readings is that of
the declared sources that spoil them: what changes with each touch, and the arms' smooth fields. Gauss-Newton;
textbook generalised least squares (for instance Rao and Toutenburg, Linear Models, chapter 4, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from handfast.learning import ball_declared
from handfast.learning.ball_model import Slopes, first_guess, slopes
from handfast.learning.ball_readings import BallReading
from handfast.model.project import Project
from handfast.spatial.se3 import Array

_FREE = np.array([0.01, 0.01, 0.01])  # of where jaws stand, if the touches alone are to tell [m]
_ANY = np.array([0.1, 0.1, 0.1, 0.3, 0.3, 0.3])  # of a base: as good as unknown [m, rad]
_ROUNDS = 4


@dataclass(frozen=True, slots=True)
class Unknowns:
    """Where each group of unknowns begins in the vector of all of them; count: of all."""

    bases: dict[str, int]
    jaws: dict[tuple[int, str], int]
    balls: dict[tuple[int, int], int]
    count: int


@dataclass(frozen=True, eq=False, slots=True)
class BallFit:
    """x (n,), covariance (n, n): of the unknowns; left (m,): readings less the fit [m]; design (m, n); at:
    slopes at the fit."""

    unknowns: Unknowns
    x: Array
    covariance: Array
    left: Array
    design: Array
    at: tuple[Slopes, ...]

    def base(self, arm: str) -> tuple[Array, Array]:
        """Twist (6,) of an arm's base from the first arm, in its root frame, and covariance (6, 6)."""
        i = self.unknowns.bases[arm]
        return self.x[i : i + 6], self.covariance[i : i + 6, i : i + 6]

    def jaws(self, log: int, arm: str) -> tuple[Array, Array]:
        """Twist (6,) of where jaws stand, in the grip frame, and covariance (6, 6)."""
        i = self.unknowns.jaws[log, arm]
        return self.x[i : i + 6], self.covariance[i : i + 6, i : i + 6]


def unknowns_of(project: Project, readings: Sequence[BallReading]) -> Unknowns:
    """The unknowns that these readings depend on. The first arm of the cell among them keeps its place."""
    arms = [a.name for a in project.cell.arms if any(r.arm == a.name for r in readings)]
    bases = {name: 6 * i for i, name in enumerate(arms[1:])}
    count = 6 * len(bases)
    jaws = {key: count + 6 * i for i, key in enumerate(sorted({(r.log, r.arm) for r in readings}))}
    count += 6 * len(jaws)
    balls = {key: count + 3 * i for i, key in enumerate(sorted({r.ball for r in readings}))}
    return Unknowns(bases, jaws, balls, count + 3 * len(balls))


def fit(project: Project, readings: Sequence[BallReading], *, jaws_free: bool = True) -> BallFit:
    """The unknowns from all readings at once. jaws_free: where jaws stand is left to the touches; False: it
    is known as well as it is declared. What nothing tells comes out as uncertain as it was put in (0.1 m, 0.3
    rad for a base)."""
    unknowns = unknowns_of(project, readings)
    x = np.zeros(unknowns.count)
    for reading in readings:
        i = unknowns.balls[reading.ball]
        if not x[i : i + 3].any():
            x[i : i + 3] = first_guess(project, reading)
    known = _known(project, unknowns, jaws_free)
    measured = np.array([r.travel for r in readings])
    for _ in range(_ROUNDS):
        at, design = linear(project, readings, unknowns, x)
        weight = np.linalg.inv(
            ball_declared.noise(project, readings, at)
            + ball_declared.field(project, readings, at)
            + _tiny(at)
        )
        left = measured - np.array([s.travel for s in at])
        normal = design.T @ weight @ design + known
        x = x + np.linalg.solve(normal, design.T @ weight @ left - known @ _off(unknowns, x))
    at, design = linear(project, readings, unknowns, x)
    left = measured - np.array([s.travel for s in at])
    return BallFit(unknowns, x, np.asarray(np.linalg.inv(normal), dtype=float), left, design, tuple(at))


def linear(
    project: Project, readings: Sequence[BallReading], unknowns: Unknowns, x: Array
) -> tuple[list[Slopes], Array]:
    """The readings' slopes at x (n,), and as one matrix (m, n)."""
    at, design = [], np.zeros((len(readings), unknowns.count))
    for row, reading in enumerate(readings):
        b, j = unknowns.bases.get(reading.arm), unknowns.jaws[reading.log, reading.arm]
        k = unknowns.balls[reading.ball]
        base = np.zeros(6) if b is None else x[b : b + 6]
        found = slopes(project, reading, base, x[j : j + 6], x[k : k + 3])
        at.append(found)
        design[row, j : j + 6], design[row, k : k + 3] = found.jaws, found.ball
        if b is not None:
            design[row, b : b + 6] = found.base
    return at, design


def _known(project: Project, unknowns: Unknowns, jaws_free: bool) -> Array:
    """Information (n, n) of what is known beforehand."""
    out = np.zeros((unknowns.count, unknowns.count))
    for i in unknowns.bases.values():
        out[i : i + 6, i : i + 6] = np.diag(_ANY**-2.0)
    for (_, arm), i in unknowns.jaws.items():
        declared = ball_declared.jaws(project, arm) + 1e-18 * np.eye(6)
        if jaws_free:
            declared[:3, :3] += np.diag(_FREE**2)
        out[i : i + 6, i : i + 6] = np.linalg.inv(declared)
    return out


def _off(unknowns: Unknowns, x: Array) -> Array:
    """What was known beforehand is about zero; of the balls nothing was."""
    out = x.copy()
    for i in unknowns.balls.values():
        out[i : i + 3] = 0.0
    return out


def _tiny(at: Sequence[Slopes]) -> Array:
    """So that readings without any declared noise have a weight [m2]."""
    return 1e-14 * np.eye(len(at))
