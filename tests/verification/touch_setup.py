"""The touch benchmark: reads its set-up, chooses the touches together, plays the cases.

Where a touch really meets its face is worked out here by itself, corner after corner, with an
exponential of its own.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import yaml
from numpy.typing import NDArray
from tests.uncertainty import true_build

from handfast.belief.consistency import normalised_square
from handfast.belief.contact import ContactSensing, GuardedTouch
from handfast.belief.update import Gaussian, Updated, update
from handfast.spatial import se3
from handfast.spatial.units import parse
from handfast.uncertainty.exchange import Joint, exchange

Array = NDArray[np.float64]
SETUP: dict[str, Any] = yaml.safe_load(
    (Path(__file__).parents[2] / "benchmarks" / "touch_setup.yaml").read_text()
)
FREEDOMS = ("x", "y", "z", "rx", "ry", "rz")
RUNS = tuple(SETUP["runs"])
ITERATIONS = 4
TIP_DOWN = np.diag([1.0, -1.0, -1.0])


def mm(values: list[str]) -> Array:
    return np.array([parse(v, "length") for v in values])


@dataclass(frozen=True, eq=False)
class Face:
    """T_target_face, z outward."""

    name: str
    T_target_face: Array


@dataclass(frozen=True, eq=False)
class Move:
    """A candidate: straight onto a face with the plug turned."""

    face: Face
    touch: GuardedTouch


def face(name: str) -> Face:
    normal = {"+z": (0, 0, 1), "-x": (-1, 0, 0), "-y": (0, -1, 0)}[SETUP["target"][name]["normal"]]
    z = np.array(normal, dtype=np.float64)
    x = np.array([0.0, 1.0, 0.0]) if abs(z[1]) < 0.5 else np.array([1.0, 0.0, 0.0])
    return Face(name, se3.pose(np.stack([x, np.cross(z, x), z], -1), mm(SETUP["target"][name]["at"])))


@dataclass(frozen=True, eq=False)
class Run:
    """One of the runs that were set up."""

    name: str
    free: tuple[int, ...]
    count: int
    median: float
    moves: tuple[Move, ...]

    @property
    def basis(self) -> Array:
        return np.eye(6)[:, list(self.free)]

    @property
    def places(self) -> list[int]:
        """Which of the free freedoms are translations."""
        return [i for i, f in enumerate(self.free) if f < 3]


def corners() -> Array:
    x, y, back = mm(SETUP["held"]["plug"])
    return np.array([[a * x / 2, b * y / 2, -c * back] for c in (0, 1) for a in (1, -1) for b in (1, -1)])


def prior(run: Run) -> Gaussian:
    """Evenly spread: half width over root three."""
    sigma = half_width()[list(run.free)] / math.sqrt(3)
    return Gaussian(np.zeros(len(run.free)), np.diag(sigma**2))


def half_width() -> Array:
    text = SETUP["errors"]["half_width"]
    return np.array([parse(t, "length" if i < 3 else "angle") for i, t in enumerate(text)])


@lru_cache
def run_of(name: str) -> Run:
    what = SETUP["runs"][name]
    free = tuple(FREEDOMS.index(f) for f in what["free"])
    angles = [parse(t, "angle") for t in SETUP["moves"]["turns"]]
    flat = [0.0]
    turns = itertools.product(
        angles if 3 in free else flat, angles if 4 in free else flat, angles if 5 in free else flat
    )
    found = [move_of(face(f), se3.fixed_xyz(*turn), free) for turn in turns for f in what["faces"]]
    moves = tuple(m for m in found if m is not None)
    return Run(name, free, what["touches"], parse(what["median"], "length"), moves)


def move_of(onto: Face, T_turn: Array, free: tuple[int, ...]) -> Move | None:
    """None where no corner of the tip is the first by enough."""
    points = corners() if 3 in free else corners()[:4]
    R = onto.T_target_face[:3, :3].T @ T_turn[:3, :3] @ TIP_DOWN
    heights = points @ R[2]
    first = int(np.argmin(heights))
    apart = np.linalg.norm(points - points[first], axis=1)
    lead = math.sin(parse(SETUP["moves"]["lead"], "angle"))
    others = np.arange(len(points)) != first
    if first >= 4 or (heights[others] - heights[first] < lead * apart[others] - 1e-12).any():
        return None
    T_face_held = se3.pose(R, np.array([0.0, 0.0, -heights[first]]))
    return Move(onto, GuardedTouch(T_face_held, np.array([0.0, 0.0, -1.0])))


def sensing(run: Run, moves: tuple[Move, ...], noise: Array) -> ContactSensing:
    return ContactSensing([m.touch for m in moves], corners(), run.basis, noise)


def chosen(run: Run) -> tuple[Move, ...]:
    """Exchange on what is left; the moves linearised over what is left by the set before."""
    sigma, around, places = parse(SETUP["noise"], "length"), prior(run), run.places
    index: tuple[int, ...] = ()

    def cost(P: Array) -> Array:
        return np.asarray(np.sqrt(np.trace(P[:, places][:, :, places], axis1=1, axis2=2)))

    for _ in range(4):
        line = sensing(run, run.moves, sigma**2 * np.eye(len(run.moves))).linearised(
            around.mean, around.covariance
        )
        P = prior(run).covariance
        joint = Joint(P, P @ line.H.T, line.H @ P @ line.H.T, np.diag(line.noise))
        index, _ = exchange(joint, cost, run.count, np.random.default_rng(1))
        around = Gaussian(around.mean, joint.given(index).P)
    return tuple(run.moves[i] for i in index)


@dataclass(frozen=True, eq=False)
class Outcome:
    """distance (k,) [m] of the tip from where it is said to be; squares (k,): normalised; surprises."""

    distance: Array
    squares: Array
    found: list[Updated]


def play(run: Run, moves: tuple[Move, ...], seed: int, cases: int | None = None) -> Outcome:
    """Errors and noise drawn, corners brought to their faces, readings taken in."""
    rng = np.random.default_rng([seed, len(run.free)])
    noise = parse(SETUP["noise"], "length")
    sense = sensing(run, moves, noise**2 * np.eye(len(moves)))
    distances, squares, found = [], [], []
    for _ in range(cases or SETUP["cases"]):
        xi = rng.uniform(-1, 1, len(run.free)) * half_width()[list(run.free)]
        reading = true_travels(run, moves, xi) + noise * rng.standard_normal(len(moves))
        got = update(prior(run), sense, reading, iterations=ITERATIONS)
        found.append(got)
        distances.append(apart(run, xi, got.after.mean))
        squares.append(normalised_square(xi - got.after.mean, got.after.covariance))
    return Outcome(np.array(distances), np.array(squares), found)


def true_travels(run: Run, moves: tuple[Move, ...], xi: Array) -> Array:
    """How much further than planned each move goes [m], one corner at a time."""
    T_hand_plug = true_build.exp((run.basis @ xi)[None])[0]
    out = []
    for move in moves:
        T = move.touch.T_face_held @ T_hand_plug
        out.append(min(float((T @ np.array([*p, 1.0]))[2]) for p in corners()))
    return np.array(out)


def apart(run: Run, true: Array, said: Array) -> float:
    """Over the translations that are free."""
    a, b = (true_build.exp((run.basis @ v)[None])[0][:3, 3] for v in (true, said))
    return float(np.linalg.norm((a - b)[[f for f in run.free if f < 3]]))
