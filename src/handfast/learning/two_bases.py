"""What touching one ball with both arms tells of where they stand, and what it cannot tell."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from handfast.belief.consistency import chi_square_quantile
from handfast.learning import ball_declared
from handfast.learning.ball_fit import BallFit, fit
from handfast.learning.ball_model import first_guess
from handfast.learning.ball_readings import BallReading
from handfast.learning.spread import CONFIDENCE
from handfast.model.project import Project
from handfast.model.source_proposal import BaseMove, Offset
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

_Z = NormalDist().inv_cdf(0.5 + 0.5 * CONFIDENCE)
# Eighteen offsets at most are looked at with two arms: all of them together are to hold (Bonferroni).
_FAR = NormalDist().inv_cdf(1 - 0.5 * (1 - CONFIDENCE) / 18)
# A freedom that is no better known than this is not told by the touches [m, rad]: own choice, no source.
_TOLD = np.array([1e-3, 1e-3, 1e-3, 3e-3, 3e-3, 3e-3])
_GAIN = 0.9  # a calibration is worth writing down if it leaves less than this of some sigma; own choice
_AXES = ("x", "y", "z", "turn about x", "turn about y", "turn about z")
Further = Callable[[Project, BallReading], list[BallReading]]
_LEAN = np.radians(60.0)
_APART = 0.2  # of a further stand [m]


@dataclass(frozen=True, slots=True)
class TwoBases:
    """offsets, moves as in SourceProposals; cannot: what cannot be told apart, and which touch would; fit:
    the better of those that the readings allow."""

    offsets: tuple[Offset, ...]
    moves: tuple[BaseMove, ...]
    cannot: tuple[str, ...]
    fit: BallFit


def two_bases(project: Project, readings: Sequence[BallReading]) -> TwoBases | None:
    """None unless two arms have touched balls."""
    if len({r.arm for r in readings}) < 2:
        return None
    free = fit(project, readings)
    told = {arm: _told(_at_middle(project, free, readings, arm)[1]) for arm in free.unknowns.bases}
    used = free if all(t.all() for t in told.values()) else fit(project, readings, jaws_free=False)
    other = next(a.name for a in project.cell.arms if any(r.arm == a.name for r in readings))
    offsets: list[Offset] = []
    moves, cannot = [], []
    for arm in used.unknowns.bases:
        offsets += _base_offsets(project, used, readings, arm, other, told[arm])
        moves.append(_move(project, used, arm, other))
        cannot += _cannot(project, readings, arm, told[arm])
    offsets += _jaw_offsets(project, free, readings)
    return TwoBases(tuple(offsets), tuple(moves), tuple(dict.fromkeys(cannot)), used)


def middle(readings: Sequence[BallReading], found: BallFit) -> Array:
    """Of all balls (3,)."""
    return np.asarray(np.mean([found.x[i : i + 3] for i in found.unknowns.balls.values()], axis=0))


def _at_middle(
    project: Project, found: BallFit, readings: Sequence[BallReading], arm: str
) -> tuple[Array, Array]:
    """How far an arm reaches off the first one (6,) in the middle of the balls, along the world's axes, and
    covariance (6, 6)."""
    twist, covariance = found.base(arm)
    carry = se3.adjoint(_to_middle(project, middle(readings, found), arm))
    return carry @ twist, carry @ covariance @ carry.T


def _to_middle(project: Project, point: Array, arm: str) -> Array:
    """T_middle_root (4, 4)."""
    return np.asarray(se3.translation(*(-point)) @ project.cell.arm(arm).base.matrix)


def _told(covariance: Array) -> Array:
    return np.asarray(np.sqrt(np.diag(covariance)) < _TOLD)


def _base_offsets(
    project: Project, found: BallFit, readings: Sequence[BallReading], arm: str, other: str, told: Array
) -> list[Offset]:
    twist, covariance = _at_middle(project, found, readings, arm)
    point = middle(readings, found)
    carry = se3.adjoint(_to_middle(project, point, arm))
    declared = carry @ ball_declared.base(project, arm, other) @ carry.T
    x, y, z = (1e3 * v for v in point)
    out = []
    for i in range(6):
        sigma, thought = float(np.sqrt(covariance[i, i])), float(np.sqrt(declared[i, i]))
        text = f"in the middle of the balls, at {x:.0f}, {y:.0f}, {z:.0f} mm, along the world's axes"
        if not told[i]:
            text += "; with the jaws as declared, the touches alone do not tell it"
        out.append(
            _offset(f"{arm} arm from {other} arm", i, thought, float(twist[i]), sigma, bool(told[i]), text)
        )
    return out


def _jaw_offsets(project: Project, free: BallFit, readings: Sequence[BallReading]) -> list[Offset]:
    """Where jaws stand, along the axes of the grip frame; their turns are not told by single points."""
    out = []
    for log, arm in free.unknowns.jaws:
        twist, covariance = free.jaws(log, arm)
        declared = ball_declared.jaws(project, arm)
        for i in range(3):
            sigma = float(np.sqrt(covariance[i, i]))
            if sigma < _TOLD[i]:
                text = "in the grip frame, with what the arm's tip is off by everywhere alike"
                thought = float(np.sqrt(declared[i, i]))
                out.append(_offset(f"jaws of the {arm} hand", i, thought, float(twist[i]), sigma, True, text))
    return out


def _offset(
    what: str, freedom: int, declared: float, found: float, sigma: float, told: bool, text: str
) -> Offset:
    half = _Z * sigma
    refuted = abs(found) > _FAR * float(np.hypot(declared, sigma))
    return Offset(what, freedom, declared, found, (found - half, found + half), told, refuted, text)


def _move(project: Project, found: BallFit, arm: str, other: str) -> BaseMove:
    """With what was declared if that holds, from the touches alone if it is refuted."""
    twist, covariance = found.base(arm)
    declared = ball_declared.base(project, arm, other)
    both = declared + covariance
    surprise = float(twist @ np.linalg.solve(both, twist))
    wrong = surprise > chi_square_quantile(CONFIDENCE, 6)
    if not wrong:
        gain = declared @ np.linalg.inv(both)
        twist, covariance = gain @ twist, declared - gain @ declared
    sigma = np.sqrt(np.diag(covariance))
    least = bool((sigma < _GAIN * np.sqrt(np.diag(declared))).any())
    old = project.cell.arm(arm).base
    new = Pose.from_matrix(old.matrix @ se3.exp(twist))
    source = next((s.name for s in project.errors if s.acts_on == f"arm.{arm}.base"), "")
    text = (
        "further off than declared: from the touches alone"
        if wrong
        else "as far off as declared allows: from the touches and what was declared"
        if least
        else "the touches tell no more than what is declared: nothing to write down"
    )
    six = tuple(float(v) for v in sigma)
    return BaseMove(arm, other, old, new, six, source, wrong or least, text)  # type: ignore[arg-type]


def _cannot(project: Project, readings: Sequence[BallReading], arm: str, told: Array) -> list[str]:
    """What the touches leave open of an arm's base, and the first kind of further touch that would tell."""
    out = []
    for i in np.flatnonzero(np.logical_not(told)):
        found = next(
            (what for what, more in _FURTHER.items() if _would_tell(project, readings, arm, int(i), more)), ""
        )
        what = (
            f"{_AXES[i]} of the {arm} arm's base and where jaws stand cannot be told apart"
            if i < 3
            else (f"{_AXES[i]} of the {arm} arm's base is not told")
        )
        fix = f": {found} would" if found else ": more than one further kind of touch is needed"
        out.append(what + fix)
    return out


def _would_tell(
    project: Project, readings: Sequence[BallReading], arm: str, freedom: int, more: Further
) -> bool:
    further = [*readings, *(one for r in readings for one in more(project, r))]
    found = fit(project, further)
    return bool(_told(_at_middle(project, found, further, arm)[1])[freedom])


def _turned(axis: tuple[float, float, float], angle: float) -> Further:
    def more(project: Project, reading: BallReading) -> list[BallReading]:
        centre = first_guess(project, reading)
        turn = se3.translation(*centre) @ se3.rotation(np.array(axis), angle) @ se3.translation(*(-centre))
        T, way = turn @ reading.T_world_tip, turn[:3, :3] @ reading.direction
        return [replace(reading, name=f"{reading.name} turned", T_world_tip=T, direction=way)]

    return more


def _elsewhere(project: Project, reading: BallReading) -> list[BallReading]:
    out = []
    for i, step in enumerate(((_APART, 0.0, 0.0), (0.0, _APART, 0.0)), 1):
        T = se3.translation(*step) @ reading.T_world_tip
        out.append(replace(reading, ball=(reading.ball[0], reading.ball[1] + 1000 * i), T_world_tip=T))
    return out


_FURTHER: dict[str, Further] = {
    "the same touches with the hand turned half round about its approach": _turned((0.0, 0.0, 1.0), np.pi),
    "a touch with the hand tilted by 60 deg": _turned((1.0, 0.0, 0.0), _LEAN),
    "the artefact on two more stands, 200 mm off along x and y": _elsewhere,
}
"""Kinds of touch that could be made besides, by what a person would call them."""
