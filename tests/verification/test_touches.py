"""Touches chosen together and taken in, on the set-up of benchmarks/touch_setup.yaml.

The wanted medians are those of the set-up, which was written before; the chi-square band is that of
Bar-Shalom, Li and Kirubarajan 2001, section 5.4 (from memory). Seeds are the set-up's own.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.verification.touch_real import play_real
from tests.verification.touch_setup import (
    ITERATIONS,
    RUNS,
    SETUP,
    Outcome,
    chosen,
    play,
    prior,
    run_of,
    sensing,
    true_travels,
)

from handfast.belief.consistency import mean_square_band, normalised_square
from handfast.belief.sensing import Line
from handfast.belief.surprise import contradicts
from handfast.belief.update import update

Array = NDArray[np.float64]
SEEDS = tuple(SETUP["seeds"])


@pytest.fixture(scope="module", params=RUNS)
def played(request: pytest.FixtureRequest) -> tuple[str, list[Outcome]]:
    run = run_of(request.param)
    return request.param, [play(run, chosen(run), seed) for seed in SEEDS]


def test_the_tip_is_known_as_well_as_was_set_up(played: tuple[str, list[Outcome]]) -> None:
    name, outcomes = played
    assert np.median(np.concatenate([o.distance for o in outcomes])) <= run_of(name).median


def test_errors_are_as_large_as_the_estimate_says(played: tuple[str, list[Outcome]]) -> None:
    name, outcomes = played
    low, high = mean_square_band(len(run_of(name).free), SETUP["cases"])
    for outcome in outcomes:
        assert low < outcome.squares.mean() < high


def test_a_touch_is_seldom_called_a_contradiction_without_being_one(
    played: tuple[str, list[Outcome]],
) -> None:
    """One in a thousand: at most 6 of 1500 in 99.9 of 100 tries (Poisson, mean 1.5)."""
    assert sum(contradicts(found) for o in played[1] for found in o.found) <= 6


@pytest.mark.parametrize("name", RUNS)
def test_with_slip_arm_field_jitter_and_datums_the_estimate_still_says_how_far_off_it_is(name: str) -> None:
    run = run_of(name)
    low, high = mean_square_band(len(run.free), SETUP["cases"])
    for seed in SEEDS:
        assert low < play_real(run, chosen(run), seed).squares.mean() < high


@pytest.mark.parametrize("name", RUNS)
def test_a_straight_line_through_the_middle_trusts_itself_too_much(name: str) -> None:
    """The band is narrow enough to catch a filter without statistical linearisation."""
    run, rng = run_of(name), np.random.default_rng(5)
    moves, noise = chosen(run), 1e-4
    sense = sensing(run, moves, noise**2 * np.eye(len(moves)))
    tiny = 1e-6 * prior(run).covariance
    line = sense.linearised(prior(run).mean, tiny)
    squares = []
    for _ in range(SETUP["cases"]):
        truth = rng.uniform(-1, 1, len(run.free)) * np.sqrt(3 * np.diag(prior(run).covariance))
        reading = true_travels(run, moves, truth) + noise * rng.standard_normal(len(moves))
        found = update(prior(run), _Straight(line), reading).after
        squares.append(normalised_square(truth - found.mean, found.covariance))
    assert not np.mean(squares) < mean_square_band(len(run.free), SETUP["cases"])[1]


class _Straight:
    """The same line whatever the state."""

    def __init__(self, line: Line) -> None:
        self.line = line

    def linearised(self, mean: Array, covariance: Array) -> Line:
        return self.line


def test_a_touch_stopped_a_millimetre_early_by_something_else_is_noticed() -> None:
    """Six touches of six freedoms leave little to check by: beside repeats, one that lies is found out."""
    run = run_of("six freedoms")
    moves = (*chosen(run), *chosen(run)[:2])
    sense = sensing(run, moves, 1e-8 * np.eye(len(moves)))
    rng, noticed = np.random.default_rng(3), 0
    for _ in range(100):
        truth = rng.uniform(-1, 1, 6) * np.sqrt(3 * np.diag(prior(run).covariance))
        reading = true_travels(run, moves, truth) + 1e-4 * rng.standard_normal(len(moves))
        reading[0] -= 1.2e-3
        noticed += contradicts(update(prior(run), sense, reading, iterations=ITERATIONS))
    assert noticed >= 99
