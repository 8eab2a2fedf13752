"""What touches tell of a mate: the ledger's own answer for small errors, the true corners for large ones.

The answer for a joint normal state and readings is the conditional mean (Bar-Shalom, Li, Kirubarajan 2001,
section 1.4.14, from memory); the band of mean normalised squares is theirs too (section 5.4). Seeds were
chosen before the first run.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.uncertainty import first_fit_chart as c

from handfast.belief.consistency import mean_square_band, normalised_square
from handfast.belief.covariance import CovarianceError
from handfast.execution.estimates import Touched, Travel, estimate, summed
from handfast.execution.over_face import over_face
from handfast.model.ledger import Band, Ledger, MateRow, Spread, TouchUpdate
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.uncertainty.budget import budget

SEEDS = (20261, 11, 4712)
CASES = 500
BENT_CASES = 120  # each with particles
SCALE = np.array([4e-4, 4e-4, 2e-4, 1e-3, 1e-3, 2e-3])


def joint(rng: np.random.Generator, touches: int) -> Array:
    """A covariance of the deviation (6) and the readings, some errors shared, (6 + touches) square."""
    n = 6 + touches
    root = rng.normal(size=(n, 2 * n))
    scale = np.concatenate([SCALE, np.full(touches, 3e-4)])
    return np.asarray(scale[:, None] * (root @ root.T / (2 * n)) * scale)


def ledger_of(covariance: Array) -> Ledger:
    """As the budget writes it: joint gain and spread of all readings of the mate."""
    P, C, S = covariance[:6, :6], covariance[:6, 6:], covariance[6:, 6:]
    K = np.linalg.solve(S, C.T).T
    prior = tuple(map(tuple, P.tolist()))
    before = Spread((0.0,) * 6, prior, 0.0, 0.0, 0.0)
    one = Band(1.0, 1.0)
    row = MateRow(
        "pin", "e", "", 0, 0, before, before, before, before, 0, 0, 0, one, one, one, (), (), "", prior=prior
    )
    updates = tuple(
        TouchUpdate(f"t{i}", "pin", tuple(K[:, i].tolist()), float(S[i, i]) ** 0.5, tuple(S[i].tolist()))
        for i in range(len(S))
    )
    return Ledger("", (row,), one, one, updates)


def told(readings: Array, travel: Travel | None = None, mate: str = "pin") -> tuple[Touched, ...]:
    return tuple(Touched(f"t{i}", float(r), travel, mate) for i, r in enumerate(readings))


def test_for_small_errors_it_is_the_conditional_mean_after_each_touch() -> None:
    rng = np.random.default_rng(3)
    covariance = joint(rng, 3)
    ledger, readings = ledger_of(covariance), rng.normal(size=3) * 3e-4
    found = None
    for count in (1, 2, 3):
        found = estimate(ledger, "pin", told(readings[:count]))
        assert found is not None
        C, S = covariance[:6, 6 : 6 + count], covariance[6 : 6 + count, 6 : 6 + count]
        gain = np.linalg.solve(S, C.T).T
        assert found.after.mean / SCALE == pytest.approx(gain @ readings[:count] / SCALE, abs=1e-6)
        left = covariance[:6, :6] - gain @ C.T
        assert np.diag(found.after.covariance) == pytest.approx(np.diag(left), rel=1e-4)
    assert found is not None
    sums = sum(np.array(u.gain) * r for u, r in zip(ledger.updates, readings, strict=True))
    assert found.after.mean / SCALE == pytest.approx(sums / SCALE, abs=1e-6)


@pytest.mark.parametrize("seed", SEEDS)
def test_errors_are_as_large_as_it_says(seed: int) -> None:
    rng = np.random.default_rng(seed)
    squares = []
    for _ in range(CASES):
        covariance = joint(rng, 2)
        drawn = rng.multivariate_normal(np.zeros(8), covariance)
        found = estimate(ledger_of(covariance), "pin", told(drawn[6:]))
        assert found is not None
        squares.append(normalised_square(drawn[:6] - found.after.mean, found.after.covariance))
    low, high = mean_square_band(6, CASES)
    assert low < np.mean(squares) < high


def corner(twists: Array) -> Array:
    """The nearer of two corners 60 mm apart along y, of a face that is met along x, beyond the middle [m]."""
    return np.asarray(twists[:, 0] - 0.03 * np.abs(twists[:, 5]))


@pytest.mark.parametrize("seed", SEEDS)
def test_the_change_of_corner_is_counted_where_errors_are_large(seed: int) -> None:
    """A part turned either way is met too early: the ledger's straight line errs by the mean of that. Which
    way it is turned stays open, so it is particles that tell."""
    rng = np.random.default_rng(seed)
    noise = 2e-5
    P = np.diag((SCALE * [1, 1, 1, 1, 1, 5]) ** 2)
    line = np.zeros((1, 6))
    line[0, 0] = 1.0
    covariance = np.block([[P, P @ line.T], [line @ P, line @ P @ line.T + noise**2]])
    ledger = ledger_of(covariance)
    with_corners: list[float] = []
    without: list[float] = []
    ways: tuple[tuple[list[float], Travel | None], ...] = ((with_corners, corner), (without, None))
    for x in rng.multivariate_normal(np.zeros(6), P, BENT_CASES):
        reading = np.array([corner(x[None])[0] + noise * rng.standard_normal()])
        for out, travel in ways:
            found = estimate(ledger, "pin", told(reading, travel))
            assert found is not None
            out.append(normalised_square(x - found.after.mean, found.after.covariance))
    low, high = mean_square_band(6, BENT_CASES)
    assert low < np.mean(with_corners) < high
    assert np.mean(without) > 10 * high


def test_corners_of_another_mates_part_do_not_bend_this_ones_readings() -> None:
    """A block was touched and put in; a gear follows whose turn is unknown: that turns no corner of the
    block."""
    covariance = joint(np.random.default_rng(5), 2)
    covariance[5] *= 50
    covariance[:, 5] *= 50
    readings = np.array([3e-4, -1e-4])
    bent, straight, other = (
        estimate(ledger_of(covariance), "pin", t)
        for t in (told(readings, corner), told(readings), told(readings, corner, "block"))
    )
    assert bent is not None
    assert straight is not None
    assert other is not None
    assert other.after.mean == pytest.approx(straight.after.mean, abs=1e-12)
    assert np.abs(bent.after.mean - straight.after.mean)[:2].max() > 1e-5


def test_ledgers_that_do_not_say_how_readings_hang_together_are_left_alone() -> None:
    ledger = Ledger("", (), Band(1, 1), Band(1, 1), (TouchUpdate("t0", "pin", (1.0,) * 6, 1e-4),))
    assert estimate(ledger, "pin", told(np.array([1e-4]))) is None


def test_only_what_comes_down_inside_the_face_can_touch() -> None:
    """A pin 40 mm long across the upper border of a face 30 mm high: from its lower end to the border."""
    ends = np.array([[0.0, 0.0, 0.0], [0.0, 0.04, 0.0], [0.002, 0.02, 0.004]])
    T_face_held = se3.translation(0, 0.007, 0)
    found = over_face(ends, T_face_held, np.array([0.0, 0, -1]), (0.05, 0.03))
    assert found[:, 1].min() == pytest.approx(0.0)
    assert found[:, 1].max() == pytest.approx(0.008)
    assert np.abs(found[:, 2]).max() < 1e-9
    assert not len(over_face(ends, se3.translation(0, 0.2, 0), np.array([0.0, 0, -1]), (0.05, 0.03)))


def test_it_is_of_the_first_pair_whichever_pair_is_the_least_likely() -> None:
    """The screw of first-fit is least likely to pass the cover; touches correct it over its thread. All the
    readings told, a line's conditional mean is the ledger's own sum."""
    of_demo = budget(c.PROJECT, c.chart(), "sha", c.hand_poses(c.chart()))
    (screw,) = (r for r in of_demo.rows if r.mate == "cover-screw")
    assert screw.before.covariance != screw.prior, "the case that is asked for"
    touched = tuple(
        Touched(u.element, 1e-4, None, "cover-screw") for u in of_demo.updates if u.mate == "cover-screw"
    )
    found = estimate(of_demo, "cover-screw", touched)
    assert found is not None
    assert found.after.mean == pytest.approx(summed(of_demo, "cover-screw", touched), abs=1e-9)


@pytest.mark.parametrize(
    ("field", "place"), [("prior", "prior of mate 'pin'"), ("spread", "readings of mate 'pin'")]
)
def test_a_ledger_whose_spread_is_none_is_refused_by_its_mate(field: str, place: str) -> None:
    ledger = ledger_of(joint(np.random.default_rng(1), 2))
    if field == "prior":
        bad = np.array(ledger.rows[0].prior)
        bad[0, 1] = bad[1, 0] = 2 * (bad[0, 0] * bad[1, 1]) ** 0.5
        ledger = replace(ledger, rows=(replace(ledger.rows[0], prior=tuple(map(tuple, bad.tolist()))),))
    else:
        first, second = ledger.updates
        ledger = replace(ledger, updates=(first, replace(second, spread=(9.0, second.spread[1]))))
    with pytest.raises(CovarianceError, match=place):
        estimate(ledger, "pin", told(np.array([1e-4, 1e-4])))


def test_a_ledger_without_the_spread_before_the_touches_is_left_alone() -> None:
    """Older ledgers have none."""
    ledger = ledger_of(joint(np.random.default_rng(1), 2))
    older = replace(ledger, rows=(replace(ledger.rows[0], prior=()),))
    assert estimate(older, "pin", told(np.array([1e-4, 1e-4]))) is None
