"""The touch benchmark with everything on: slip, arm field, jitter, and faces off against the hole.

The estimator is told the sizes only, as a linear map of independent causes to the readings; the cases
are played one touch after another.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from tests.uncertainty import true_build
from tests.verification.touch_setup import (
    ITERATIONS,
    SETUP,
    TIP_DOWN,
    Move,
    Outcome,
    Run,
    apart,
    corners,
    half_width,
    prior,
    sensing,
    true_travels,
)

from handfast.belief.consistency import normalised_square
from handfast.belief.update import update
from handfast.spatial.units import parse

Array = NDArray[np.float64]
REAL = SETUP["real"]
NOISE = parse(SETUP["noise"], "length")
SLIP, JITTER = parse(REAL["slip"], "length"), parse(REAL["jitter"], "length")
FIELD, LENGTH = parse(REAL["arm_field"], "length"), parse(REAL["arm_field_length"], "length")
DATUM = np.array([parse(REAL["datum"][0], "length"), *[parse(REAL["datum"][1], "angle")] * 2])


@dataclass(frozen=True, eq=False)
class Stop:
    """What matters of a move to first order: the face's normal in the target's and the plug's frame, at
    the hole's roll and at the move's; where the hand stands; the contact in the face; which face.
    """

    normal: Array
    in_plug: Array
    as_at_hole: Array
    hand: Array
    lever: Array
    face: str


def stop_of(move: Move) -> Stop:
    T_face_held, T_target_face = move.touch.T_face_held, move.face.T_target_face
    first = int(np.argmin(corners() @ T_face_held[2, :3]))
    in_plug = T_face_held[2, :3]
    return Stop(
        T_target_face[:3, 2],
        in_plug,
        TIP_DOWN @ in_plug,
        (T_target_face @ T_face_held)[:3, 3],
        (T_face_held @ np.array([*corners()[first], 1.0]))[:2],
        move.face.name,
    )


def field_covariance(stops: list[Stop]) -> Array:
    """Of one axis at the hole and then at each stop."""
    points = np.array([np.zeros(3), *(s.hand for s in stops)])
    apart_by = np.linalg.norm(points[:, None] - points[None], axis=-1)
    return np.asarray(FIELD**2 * np.exp(-0.5 * (apart_by / LENGTH) ** 2))


def reading_errors(stops: list[Stop]) -> tuple[Array, Array]:
    """Mean (m,) and covariance (m, m) of what the readings err by, beyond the noise of the contact."""
    m, K = len(stops), field_covariance(stops)
    P, mean = JITTER**2 * np.eye(m), np.zeros(m)
    for i, a in enumerate(stops):
        for j, b in enumerate(stops):
            P[i, j] += K[i + 1, j + 1] * (a.normal @ b.normal) + K[0, 0] * (a.as_at_hole @ b.as_at_hole)
            P[i, j] -= K[i + 1, 0] * (a.normal @ b.as_at_hole) + K[0, j + 1] * (a.as_at_hole @ b.normal)
            if a.face == b.face:
                P[i, j] += face_row(a) * DATUM**2 @ face_row(b)
            for k in range(max(i, j), m):
                push = stops[k].in_plug
                P[i, j] += SLIP**2 * (1 - 2 / math.pi) * (a.in_plug @ push) * (b.in_plug @ push)
        mean[i] = -SLIP * math.sqrt(2 / math.pi) * sum(float(a.in_plug @ b.in_plug) for b in stops[i:])
    return mean, P


def face_row(stop: Stop) -> Array:
    """Offset and two tilts of a face to its height at the contact."""
    return np.array([1.0, stop.lever[1], -stop.lever[0]])


def play_real(run: Run, moves: tuple[Move, ...], seed: int) -> Outcome:
    """The truth is where the plug is at the hole, after all slips, the arm's error there included."""
    rng = np.random.default_rng([seed, len(run.free), 1])
    stops = [stop_of(m) for m in moves]
    mean, extra = reading_errors(stops)
    sense = sensing(run, moves, extra + NOISE**2 * np.eye(len(moves)))
    root = np.asarray(
        np.linalg.cholesky(field_covariance(stops) + 1e-18 * np.eye(len(stops) + 1)), dtype=np.float64
    )
    distances, squares, found = [], [], []
    for _ in range(SETUP["cases"]):
        truth, readings = one_case(run, moves, stops, root, rng)
        got = update(prior(run), sense, readings - mean, iterations=ITERATIONS)
        found.append(got)
        distances.append(apart(run, truth, got.after.mean))
        squares.append(normalised_square(truth - got.after.mean, got.after.covariance))
    return Outcome(np.array(distances), np.array(squares), found)


def one_case(
    run: Run, moves: tuple[Move, ...], stops: list[Stop], root: Array, rng: np.random.Generator
) -> tuple[Array, Array]:
    """The state (n,) at the hole and the readings (m,)."""
    free, basis = list(run.free), run.basis
    xi = rng.uniform(-1, 1, len(free)) * half_width()[free]
    arm = root @ rng.standard_normal((len(moves) + 1, 3))
    off = {s.face: DATUM * rng.standard_normal(3) for s in stops}
    readings = []
    for i, (move, stop) in enumerate(zip(moves, stops, strict=True)):
        met = true_travels(run, (move,), xi)[0] + stop.normal @ arm[i + 1] - face_row(stop) @ off[stop.face]
        readings.append(met + JITTER * rng.standard_normal() + NOISE * rng.standard_normal())
        T = true_build.exp((basis @ xi)[None])[0]
        T[:3, 3] += abs(SLIP * rng.standard_normal()) * stop.in_plug
        xi = (true_build.log(T[None])[0])[free]
    T = true_build.exp((basis @ xi)[None])[0]
    T[:3, 3] += TIP_DOWN.T @ arm[0]
    return np.asarray((true_build.log(T[None])[0])[free]), np.array(readings)
