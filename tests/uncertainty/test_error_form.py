from __future__ import annotations

import math

import gtsam
import numpy as np
import pytest
from numpy.typing import NDArray
from tests.uncertainty.true_build import exp, inv, log

from handfast.spatial import se3
from handfast.uncertainty.correction import joint_gain, taken_back
from handfast.uncertainty.error_form import Form, added, composed, covariance, mapped, nothing, only
from handfast.uncertainty.instances import Instance
from handfast.uncertainty.spread import spread_of

Array = NDArray[np.float64]
ROTATION_FIRST = np.array([3, 4, 5, 0, 1, 2])


class Draws:
    """Variances of instances, made up as a test asks for them."""

    def __init__(self) -> None:
        self.known: dict[Instance, Array] = {}

    def form(self, name: str, sigma: Array, place: str = "here") -> Form:
        key = Instance(name)
        self.known[key] = np.asarray(sigma, dtype=float) ** 2
        return Form({key: np.eye(6)}, np.zeros(6), {key: frozenset((place,))})

    def __call__(self, instance: Instance) -> Array:
        return self.known[instance]


def random_pose(rng: np.random.Generator) -> Array:
    return np.asarray(se3.exp(np.concatenate([rng.uniform(-0.5, 0.5, 3), rng.uniform(-1.5, 1.5, 3)])))


def random_sigma(rng: np.random.Generator) -> Array:
    return np.concatenate([rng.uniform(0.1e-3, 1e-3, 3), rng.uniform(1e-4, 1e-3, 3)])


def along(draws: Draws, form: Form, step: Array, error: Form) -> Form:
    """One more link of a chain: nominal step, then its own error."""
    return composed(mapped(se3.adjoint(se3.inverse(step)), form), error, draws)


def hundred_steps(draws: Draws) -> Form:
    """Steps of 1 m along x, each turned by its own error first, sigma 0.03 rad of yaw."""
    form, step = nothing(), se3.translation(1.0, 0.0, 0.0)
    for i in range(100):
        turned = composed(form, draws.form(f"step {i}", np.array([0, 0, 0, 0, 0, 0.03])), draws)
        form = along(draws, turned, step, nothing())
    return form


def test_hundred_steps_of_a_metre_spread_as_barfoot_and_furgale_say() -> None:
    """Barfoot and Furgale, T-RO 30 (2014) 679-693: 100 steps of 1 m, sigma of yaw 0.03 rad. Second order:
    Var(yaw) 0.0900, Syy 295.515, Sxx 0 (set-up looked up, numbers computed from their formula). Their
    perturbation stands on the left.
    """
    draws = Draws()
    at_start = mapped(se3.adjoint(se3.translation(100.0, 0.0, 0.0)), hundred_steps(draws))
    at_end = covariance(hundred_steps(draws), draws)
    assert covariance(at_start, draws)[5, 5] == pytest.approx(0.0900, rel=1e-12)
    assert covariance(at_start, draws)[1, 1] == pytest.approx(295.515, abs=5e-4)
    assert covariance(at_start, draws)[0, 0] == 0
    # Seen from the end the errors sit 1 to 100 m behind it instead of 0 to 99 m ahead of the start.
    assert at_end[1, 1] == pytest.approx(0.0009 * sum(k * k for k in range(1, 101)), rel=1e-12)


def test_the_mean_of_hundred_steps_lies_back_as_it_does_in_truth() -> None:
    """The same steps: E[x] 97.76 m, exactly the sum of exp(-k sigma^2/2). Second order takes its linear
    term; the next term bounds what that leaves out.
    """
    draws = Draws()
    mean = spread_of(hundred_steps(draws), draws).mean
    exact = sum(math.exp(-0.5 * k * 0.03**2) for k in range(1, 101))
    assert exact == pytest.approx(97.76, abs=0.005)
    next_term = sum((0.5 * k * 0.03**2) ** 2 / 2 for k in range(1, 101))
    assert -next_term < 100 + mean[0] - exact < 0
    assert mean[1:] == pytest.approx((0, 0, 0, 0, 0), abs=1e-12)


@pytest.mark.parametrize("seed", range(3))
def test_a_lever_shifts_the_mean_back(seed: int) -> None:
    """5 deg about three axes over 0.5 m: true builds say how far the end lies back on average, 3.8 mm a
    pair of axes.
    """
    n, sigma = 100_000, math.radians(5)
    xi = np.zeros((n, 6))
    xi[:, 3:] = np.random.default_rng(seed).normal(0, sigma, (n, 3))
    arm = se3.translation(0.5, 0.0, 0.0)
    true = (exp(xi) @ arm)[:, :3, 3] - arm[:3, 3]
    draws = Draws()
    form = along(draws, draws.form("wrist", np.array([0, 0, 0, sigma, sigma, sigma])), arm, nothing())
    mean = np.array(spread_of(form, draws).mean[:3])
    assert abs(mean[0] + 0.0038) < 5e-5
    sampling = true.std(axis=0) / math.sqrt(n)
    fourth_order = 0.5 * sigma**4
    assert (np.abs(mean - true.mean(axis=0)) < 4 * sampling + fourth_order).all()


@pytest.mark.parametrize("seed", range(3))
def test_correlated_twists_shift_the_mean_by_half_their_bracket(seed: int) -> None:
    """Two links of one cause: the mean of log(Exp(a) Exp(b)) against exact compositions."""
    rng, n = np.random.default_rng(seed), 200_000
    sigma = np.array([0.05, 0.04, 0.03, 0.04, 0.05, 0.06])
    eps = rng.normal(size=(n, 6)) * sigma
    A, B = rng.normal(size=(2, 6, 6)) * 0.6
    draws = Draws()
    cause = draws.form("cause", sigma)
    told = composed(mapped(A, cause), mapped(B, cause), draws)
    seen = log(exp(eps @ A.T) @ exp(eps @ B.T))
    assert np.abs(told.mean).max() > 1e-3, "the set-up must show a shift"
    # The third-order terms have no mean; of the fourth order sigma^4-terms remain.
    assert (np.abs(told.mean - seen.mean(axis=0)) < 4 * seen.std(axis=0) / math.sqrt(n) + 5e-4).all()


@pytest.mark.parametrize("seed", range(5))
def test_random_chains_agree_with_an_estimation_library(seed: int) -> None:
    """gtsam marginals of a chain of between factors (its twists are rotation first, errors in the body
    frame as ours).
    """
    rng = np.random.default_rng(seed)
    graph, values, draws = gtsam.NonlinearFactorGraph(), gtsam.Values(), Draws()
    pose, form = random_pose(rng), draws.form("start", random_sigma(rng))
    values.insert(0, gtsam.Pose3(pose))
    graph.add(gtsam.PriorFactorPose3(0, gtsam.Pose3(pose), noise(draws, "start")))
    for i in range(1, 8):
        step = random_pose(rng)
        form = along(draws, form, step, draws.form(f"step {i}", random_sigma(rng)))
        graph.add(gtsam.BetweenFactorPose3(i - 1, i, gtsam.Pose3(step), noise(draws, f"step {i}")))
        pose = pose @ step
        values.insert(i, gtsam.Pose3(pose))
    theirs = gtsam.Marginals(graph, values).marginalCovariance(7)
    assert_close(covariance(form, draws), translation_first(theirs))


@pytest.mark.parametrize("seed", range(5))
def test_two_chains_of_one_stem_agree_with_the_joint_marginal(seed: int) -> None:
    """Relative pose of two ends that share their stem, and after a reading of one of them, against gtsam."""
    rng = np.random.default_rng(100 + seed)
    graph, values, draws = gtsam.NonlinearFactorGraph(), gtsam.Values(), Draws()
    T = [np.eye(4)]
    forms = [draws.form("stem", random_sigma(rng) * 5)]
    values.insert(0, gtsam.Pose3(T[0]))
    graph.add(gtsam.PriorFactorPose3(0, gtsam.Pose3(T[0]), noise(draws, "stem")))
    for i in (1, 2):
        step = random_pose(rng)
        forms.append(along(draws, forms[0], step, draws.form(f"branch {i}", random_sigma(rng))))
        graph.add(gtsam.BetweenFactorPose3(0, i, gtsam.Pose3(step), noise(draws, f"branch {i}")))
        T.append(step)
        values.insert(i, gtsam.Pose3(step))

    def relative_of_joint() -> Array:
        joint = gtsam.Marginals(graph, values).jointMarginalCovariance(gtsam.KeyVector([1, 2])).fullMatrix()
        J = np.hstack([-gtsam.Pose3(se3.inverse(T[2]) @ T[1]).AdjointMap(), np.eye(6)])
        return translation_first(J @ joint @ J.T)

    of_first = mapped(-se3.adjoint(se3.inverse(T[2]) @ T[1]), forms[1])
    relative = composed(of_first, forms[2], draws)
    assert_close(covariance(relative, draws), relative_of_joint())
    apart = covariance(of_first, draws) + covariance(forms[2], draws)
    assert apart[0, 0] > 1.5 * covariance(relative, draws)[0, 0], "counted twice, the stem would show"

    # A reading of end 1 along its own x, 0.1 mm: a prior that is loose in all other freedoms.
    reading = added(
        mapped(np.eye(1, 6), forms[1]), mapped(np.eye(1, 6), draws.form("noise", np.full(6, 1e-4)))
    )
    K, _ = joint_gain(relative, [reading], draws)
    loose = gtsam.noiseModel.Diagonal.Sigmas(np.array([1e4, 1e4, 1e4, 1e-4, 1e4, 1e4]))
    graph.add(gtsam.PriorFactorPose3(1, gtsam.Pose3(T[1]), loose))
    assert_close(covariance(taken_back(relative, K, [reading]), draws), relative_of_joint())


def test_a_cause_on_both_sides_counts_once_with_its_signs() -> None:
    draws = Draws()
    table, pin = draws.form("table", np.full(6, 1e-3), "block"), draws.form("pin", np.full(6, 1e-4), "hand")
    moved = added(
        mapped(
            np.eye(6), Form(table.jacobians, table.mean, {k: frozenset(("hand",)) for k in table.jacobians})
        ),
        pin,
    )
    difference = added(moved, mapped(-np.eye(6), table))
    assert covariance(difference, draws)[0, 0] == pytest.approx(1e-8, rel=1e-12)
    assert covariance(added(moved, table), draws)[0, 0] == pytest.approx(4e-6 + 1e-8, rel=1e-12)
    once_each = covariance(moved, draws) + covariance(table, draws)
    assert once_each[0, 0] == pytest.approx(2e-6 + 1e-8, rel=1e-12), (
        "what treating it as two causes would give"
    )
    assert added(moved, table).places[Instance("table")] == {"hand", "block"}


def test_the_parts_of_a_form_make_up_the_whole() -> None:
    rng, draws = np.random.default_rng(5), Draws()
    form = nothing()
    for i in range(6):
        form = added(form, mapped(rng.normal(size=(6, 6)), draws.form(f"cause {i}", random_sigma(rng))))
    even = covariance(only(form, lambda k: int(k.source[-1]) % 2 == 0), draws)
    odd = covariance(only(form, lambda k: int(k.source[-1]) % 2 == 1), draws)
    np.testing.assert_allclose(even + odd, covariance(form, draws), rtol=1e-12)
    assert min(np.linalg.eigvalsh(covariance(form, draws))) > 0


def noise(draws: Draws, name: str) -> gtsam.noiseModel.Base:
    return gtsam.noiseModel.Diagonal.Sigmas(np.sqrt(draws(Instance(name)))[ROTATION_FIRST])


def translation_first(rotation_first: Array) -> Array:
    return np.asarray(rotation_first[np.ix_(ROTATION_FIRST, ROTATION_FIRST)])


def assert_close(ours: Array, theirs: Array) -> None:
    """Within 1e-6 of the larger of two standard deviations, entry by entry."""
    scale = np.sqrt(np.outer(np.diag(theirs), np.diag(theirs)))
    assert (np.diag(theirs) > 0).all()
    assert (np.abs(ours - theirs) < 1e-6 * scale).all(), np.abs(ours - theirs) / scale


def test_the_series_of_the_true_builds_are_exponential_and_logarithm() -> None:
    """The oracle itself: against the closed forms, and one undoes the other."""
    xi = np.random.default_rng(3).normal(0, 0.02, (50, 6))
    np.testing.assert_allclose(exp(xi), se3.exp(xi), atol=1e-13)
    np.testing.assert_allclose(log(exp(xi)), xi, atol=1e-13)
    np.testing.assert_allclose(inv(exp(xi)), se3.inverse(exp(xi)), atol=1e-13)
