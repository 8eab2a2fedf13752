"""Chains, what touches leave of them, and corrections, against GTSAM (general-purpose estimation library,
BSD).

There each source is a pose of its own with a prior, a touch a factor on all the poses that its chain goes
over; derivatives come from its own composition of poses, the answers are marginals by its own elimination.
Its twists are rotation first, so what comes from it is put into our order at the door.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import gtsam
import numpy as np
import pytest
from numpy.typing import NDArray

from handfast.spatial import se3
from handfast.uncertainty.correction import joint_gain, taken_back
from handfast.uncertainty.error_form import Form, composed, covariance, mapped, nothing
from handfast.uncertainty.instances import Instance, Variances

Array = NDArray[np.float64]
TouchError = Callable[[Any, Any, list[Array] | None], Array]
CHAINS = range(24)
OURS = [3, 4, 5, 0, 1, 2]


@dataclass(frozen=True)
class Link:
    """A pose to the next frame, and the source that errs there."""

    T: Array
    source: int


@dataclass(frozen=True)
class Case:
    """sigmas (s, 6), translation first; chain from the world to where the touches are; from there on to the
    part's feature: sources come back, so both share them."""

    sigmas: Array
    touched: tuple[Link, ...]
    target: tuple[Link, ...]
    noise: float


def case_of(seed: int) -> Case:
    rng = np.random.default_rng([20261129, seed])
    count = int(rng.integers(3, 7))
    sigmas = np.abs(rng.normal(size=(count, 6))) * np.array([2e-4] * 3 + [1e-3] * 3) + 1e-5

    def links(many: int) -> tuple[Link, ...]:
        return tuple(Link(random_pose(rng), int(rng.integers(count))) for _ in range(many))

    touched, target = links(int(rng.integers(2, 6))), links(int(rng.integers(2, 6)))
    return Case(sigmas, touched, target, float(rng.uniform(1e-5, 3e-4)))


def random_pose(rng: np.random.Generator) -> Array:
    """Any turn, up to 0.7 m."""
    axis = rng.normal(size=3)
    x, y, z = rng.uniform(-0.4, 0.4, 3)
    turn = se3.rotation(axis / np.linalg.norm(axis), float(rng.uniform(-3, 3)))
    return np.asarray(se3.translation(x, y, z) @ turn)


def form_of(case: Case, links: tuple[Link, ...]) -> Form:
    """Twist of the last frame, as the ledger makes chains."""
    form = nothing()
    for link in links:
        here = mapped(se3.adjoint(se3.inverse(link.T)), form)
        key = Instance(str(link.source))
        own = Form({key: np.eye(6)}, np.zeros(6), {key: frozenset()})
        form = composed(here, own, variances_of(case))
    return form


def variances_of(case: Case) -> Variances:
    def of(key: Instance) -> Array:
        return np.asarray(case.sigmas[int(key.source)] ** 2)

    return of


def nominal(links: tuple[Link, ...]) -> Array:
    T = np.eye(4)
    for link in links:
        T = T @ link.T
    return T


@dataclass
class Graph:
    """The case as a factor graph of its sources about nothing off."""

    case: Case
    factors: Any
    values: Any

    def marginal(self, links: tuple[Link, ...]) -> Array:
        """Covariance (6, 6) of the last frame, translation first."""
        keys = [source_key(i) for i in range(len(self.case.sigmas))]
        joint = gtsam.Marginals(self.factors, self.values).jointMarginalCovariance(keys)
        of = walked(links, self.values)[1]
        J = np.hstack([of.get(k, np.zeros((6, 6))) for k in keys])
        blocks = [[joint.at(a, b) for b in keys] for a in keys]
        return np.asarray(J @ np.block(blocks) @ J.T)[np.ix_(OURS, OURS)]

    def shift(self, links: tuple[Link, ...]) -> Array:
        """The most likely twist of the last frame, linear about nothing off, translation first."""
        found = self.factors.linearize(self.values).optimize()
        return np.asarray(sum(J @ found.at(k) for k, J in walked(links, self.values)[1].items()))[OURS]


def source_key(number: int) -> int:
    return int(gtsam.symbol("s", number))


def walked(links: tuple[Link, ...], values: Any) -> tuple[Any, dict[int, Array]]:
    """The last frame's pose, and its derivative by each source (6, 6), by the library's own."""
    pose: Any = gtsam.Pose3()
    of: dict[int, Array] = {}
    for link in links:
        for step, key in (
            (gtsam.Pose3(link.T), None),
            (values.atPose3(source_key(link.source)), link.source),
        ):
            before, own = np.zeros((6, 6), order="F"), np.zeros((6, 6), order="F")
            pose = pose.compose(step, before, own)
            of = {k: before @ J for k, J in of.items()}
            if key is not None:
                at = source_key(key)
                of[at] = of.get(at, np.zeros((6, 6))) + own
    return pose, of


def graph_of(case: Case, reading: Array | None = None) -> Graph:
    """Reading (3,): what touches say of the touched frame's origin beyond its nominal place; None: no
    touch."""
    factors, values = gtsam.NonlinearFactorGraph(), gtsam.Values()
    for i, sigma in enumerate(case.sigmas):
        sigmas = gtsam.noiseModel.Diagonal.Sigmas(sigma[OURS])
        factors.add(gtsam.PriorFactorPose3(source_key(i), gtsam.Pose3(), sigmas))
        values.insert(source_key(i), gtsam.Pose3())
    if reading is not None:
        at = np.asarray(walked(case.touched, values)[0].translation()) + reading
        noise = gtsam.noiseModel.Isotropic.Sigma(3, case.noise)
        keys = sorted({source_key(k.source) for k in case.touched})
        factors.add(gtsam.CustomFactor(noise, keys, _touch_error(case.touched, keys, at)))
    return Graph(case, factors, values)


def _touch_error(links: tuple[Link, ...], keys: list[int], at: Array) -> TouchError:
    """Where the touched frame's origin is, less where it was felt."""

    def error(_factor: Any, values: Any, jacobians: list[Array] | None) -> Array:
        pose, of = walked(links, values)
        if jacobians is not None:
            by_pose = np.zeros((3, 6), order="F")
            pose.translation(by_pose)
            for i, key in enumerate(keys):
                jacobians[i] = by_pose @ of[key]
        return np.asarray(pose.translation()) - at

    return error


def scaled(P: Array, by: Array) -> Array:
    """In units of sigmas, so that metres and radians are told alike."""
    size = np.sqrt(np.diag(by))
    return np.asarray(P / np.outer(size, size))


@pytest.mark.parametrize("seed", CHAINS)
def test_chains_with_shared_sources(seed: int) -> None:
    case = case_of(seed)
    graph = graph_of(case)
    for links in (case.touched, case.target):
        ours = covariance(form_of(case, links), variances_of(case))
        theirs = graph.marginal(links)
        assert scaled(ours, theirs) == pytest.approx(scaled(theirs, theirs), abs=1e-9)


def test_sources_do_come_back() -> None:
    """What the cases are for: chains in which a source enters twice, and chains that share one."""
    cases = [case_of(seed) for seed in CHAINS]
    sources = [([k.source for k in c.touched], [k.source for k in c.target]) for c in cases]
    assert sum(len(set(touched)) < len(touched) for touched, _ in sources) > 5
    assert sum(bool(set(touched) & set(target)) for touched, target in sources) > 15


@pytest.mark.parametrize("seed", CHAINS)
def test_what_touches_leave_and_what_they_correct(seed: int) -> None:
    """Three readings of the touched frame's origin, along the world's axes, each with noise of its own."""
    case = case_of(seed)
    reading = np.random.default_rng(seed).normal(size=3) * 3e-4
    graph = graph_of(case, reading)
    target, touched = form_of(case, case.target), form_of(case, case.touched)
    R = nominal(case.touched)[:3, :3]
    along = np.hstack([R, np.zeros((3, 3))])
    readings = [_noisy(mapped(along[i : i + 1], touched), i) for i in range(3)]

    of_sources = variances_of(case)

    def variances(key: Instance) -> Array:
        return np.full(6, case.noise**2) if key.source == "noise" else of_sources(key)

    K, _ = joint_gain(target, readings, variances)
    left = covariance(taken_back(target, K, readings), variances)
    before = covariance(target, variances)
    assert scaled(left, before) == pytest.approx(scaled(graph.marginal(case.target), before), abs=1e-9)
    size = np.sqrt(np.diag(before))
    assert K @ reading / size == pytest.approx(graph.shift(case.target) / size, abs=1e-9)


def _noisy(form: Form, number: int) -> Form:
    row = np.zeros((1, 6))
    row[0, 0] = 1.0
    key = Instance("noise", str(number))
    return Form({**form.jacobians, key: row}, form.mean, {**form.places, key: frozenset()})
