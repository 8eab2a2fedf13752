"""What is left over of readings of balls once bases, jaws and balls are fitted: how touches repeat, and the
arms' smooth fields.

With z: the readings freed of everything that was fitted (contrasts), N: covariance of what changes with
each touch, K: that of the fields at a size of 1. Then z' (N + s^2 K)^-1 z has a chi-square distribution at
the true size s, and falls as s grows: the sizes at which it is not unlikely are the interval. (Residual
contrasts: Patterson and Thompson, Biometrika 58 (1971) 545-554, from memory.)
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Sequence

import numpy as np

from handfast.belief.consistency import chi_square_quantile
from handfast.learning import ball_declared
from handfast.learning.ball_fit import BallFit
from handfast.learning.ball_readings import BallReading
from handfast.learning.spread import CONFIDENCE, pooled
from handfast.model.project import Project
from handfast.model.source_proposal import SourceProposal
from handfast.spatial.se3 import Array

_HALVINGS = 60
_SURE = 0.999  # the readings contradict each other only if this unlikely
_LARGEST = 5e-3  # of an arm's field [m]; beyond, something else is wrong


def left_over(project: Project, readings: Sequence[BallReading], found: BallFit) -> list[SourceProposal]:
    """Repeats by arm, the fields of both arms, and whether all touches agree with one another."""
    return [*_repeats(project, readings, found), *_fields(project, readings, found)]


def _repeats(project: Project, readings: Sequence[BallReading], found: BallFit) -> list[SourceProposal]:
    out = []
    for arm in dict.fromkeys(r.arm for r in readings):
        mine = [(r, s) for r, s in zip(readings, found.at, strict=True) if r.arm == arm]
        spread = pooled([r.travels.tolist() for r, _ in mine])
        if spread is None:
            continue
        shares: dict[str, float] = defaultdict(float)
        for reading, slopes in mine:
            for name, variance in ball_declared.cycle_parts(project, reading, slopes):
                shares[name] += variance / len(mine)
        whole = math.sqrt(sum(shares.values()))
        names = " + ".join(shares) or f"touch.{arm}"
        text = (
            f"{len(mine)} touches of a ball by the {arm} hand, each made again; only the sum is seen: clock "
            f"the {arm} arm alone with a dial gauge (ISO 9283) to separate them"
        )
        wrong = not spread.interval[0] <= whole <= spread.interval[1]
        freedom = 0 if len(shares) == 1 else -1
        out.append(
            SourceProposal(names, freedom, whole, spread.sigma, spread.interval, spread.count, wrong, text)
        )
    return out


def _fields(project: Project, readings: Sequence[BallReading], found: BallFit) -> list[SourceProposal]:
    arms = list(dict.fromkeys(r.arm for r in readings))
    declared = ball_declared.field(project, readings, found.at)
    told = bool(declared.any())
    unit = declared if told else ball_declared.unit_field(readings, found.at)
    noise = ball_declared.noise(project, readings, found.at) + 1e-14 * np.eye(len(readings))
    free = _contrasts(found)
    z, N, K = free.T @ found.left, free.T @ noise @ free, free.T @ unit @ free
    one = 1.0 if told else 0.1e-3
    z, N, K = _where_it_shows(z, N, K * one**2)
    if len(z) < 3:
        return []
    size = math.sqrt(float(np.mean(_axes(project, arms)))) if told else 0.0

    def unlikely(s: float) -> float:
        return float(z @ np.linalg.solve(N + s * s * K, z))

    tail = 0.5 * (1 - CONFIDENCE)
    most = _LARGEST / (size or one)
    low, mid, high = (
        _at_most(unlikely, q, most)
        for q in (
            chi_square_quantile(1 - tail, len(z)), float(len(z)), chi_square_quantile(tail, len(z))
        )
    )  # fmt: skip
    scale = size or one
    sources = [s.name for arm in arms for s in ball_declared.fields(project, arm)]
    text = (
        f"what {len(readings)} touches leave, {len(z)} independent parts of it; only what differs between "
        "the arms is seen, the same size is put down to each: a plate of balls at known distances, touched "
        "by one arm, would separate them"
    )
    row = SourceProposal(
        " + ".join(sources) or f"field of the {' and the '.join(arms)} arm", -1, size, scale * mid,
        (scale * low, scale * high), len(readings), not scale * low <= size <= scale * high, text,
    )  # fmt: skip
    return [row]


def agree(project: Project, readings: Sequence[BallReading], found: BallFit) -> str:
    """What a person is to look at if the touches contradict each other, "" if they do not."""
    covariance = ball_declared.noise(project, readings, found.at)
    covariance += ball_declared.field(project, readings, found.at) + 1e-14 * np.eye(len(readings))
    free = _contrasts(found)
    z = free.T @ found.left
    far = float(z @ np.linalg.solve(free.T @ covariance @ free, z))
    if not len(z) or far <= chi_square_quantile(_SURE, len(z)):
        return ""
    worst = int(np.argmax(np.abs(found.left) / np.sqrt(np.diag(covariance))))
    return (
        f"the touches contradict each other by {math.sqrt(far / len(z)):.1f} times what is declared, most of "
        f"all {readings[worst].name} ({1e3 * found.left[worst]:+.3f} mm): look for dirt, an edge that was "
        "met, or an artefact that was moved; or the errors are larger than declared"
    )


def _contrasts(found: BallFit) -> Array:
    """Orthonormal columns (m, k) that nothing fitted reaches."""
    u, s, _ = np.linalg.svd(found.design, full_matrices=True)
    return np.asarray(u[:, int((s > 1e-9 * s[0]).sum()) :])


def _where_it_shows(z: Array, N: Array, K: Array) -> tuple[Array, Array, Array]:
    """Of the contrasts those in which the fields, at the size that K has, are more than the noise."""
    root = np.linalg.inv(np.linalg.cholesky(N))
    values, vectors = np.linalg.eigh(root @ K @ root.T)
    kept = (vectors[:, values >= 1.0]).T @ root
    return kept @ z, kept @ N @ kept.T, kept @ K @ kept.T


def _at_most(falling: Callable[[float], float], value: float, most: float) -> float:
    """The least argument from 0 to most at which a falling function is no more than the value."""
    if falling(0.0) <= value:
        return 0.0
    low, high = 0.0, most
    if falling(high) > value:
        return high
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if falling(middle) > value else (low, middle)
    return high


def _axes(project: Project, arms: Sequence[str]) -> list[float]:
    """Variances of the declared fields along each axis [m2]."""
    return [
        sum(s.sigma[i] ** 2 for s in ball_declared.fields(project, arm)) for arm in arms for i in range(3)
    ]
