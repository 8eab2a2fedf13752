"""Chains derived from a chart against the same process in truth: exact compositions, drawn errors, no
linearisation.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.uncertainty import first_fit_chart as c
from tests.uncertainty.true_build import OneAtATime, Outcome, build, done

from handfast.model.error_source import ErrorSource, Six
from handfast.model.project import Project
from handfast.uncertainty.error_form import Form, covariance, mapped, nothing
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.sources import Sources, sources_of
from handfast.uncertainty.walk import walk

Array = NDArray[np.float64]
N = 20_000
MM, DEG = 1e-3, math.pi / 180
# Two-sided normal quantile that 36 entries in ten comparisons all stay within with 99 %: Bonferroni over 360.
BOUND = 4.2


def six(*mm_and_deg: float) -> Six:
    x, y, z, a, b, g = mm_and_deg
    return (x * MM, y * MM, z * MM, a * DEG, b * DEG, g * DEG)


def more_sources(project: Project) -> Project:
    """The project's own sources, and one of each edge it leaves out."""
    extra = (
        ErrorSource("pads", "grasp.left_gripper.free", six(0.03, 0.03, 0.04, 0.05, 0.05, 0.05), "cycle"),
        ErrorSource(
            "pads right",
            "grasp.right_gripper.free",
            six(0.02, 0.01, 0.05, 0.02, 0.06, 0.03),
            "part",
            "uniform",
        ),
        ErrorSource("runout", "tool.driver.bit", six(0.05, 0.05, 0.0, 0.1, 0.1, 0.0), "part", "uniform"),
        ErrorSource("stand", "holder.stand", six(0.1, 0.1, 0.02, 0.01, 0.01, 0.05), "shift"),
        ErrorSource(
            "tip ground", "feature.pin.tip", six(0.005, 0.004, 0.0, 0.02, 0.01, 0.0), "part", "truncated", 2.0
        ),
        ErrorSource("cover punched", "feature.cover.pin_hole", six(0.02, 0.03, 0.0, 0.02, 0.01, 0.1), "lot"),
        ErrorSource("holes apart", "feature.cover.screw_hole", six(0.03, 0.03, 0.0, 0.0, 0.0, 0.0), "lot"),
        ErrorSource("tapped off", "feature.block.tapped", six(0.03, 0.02, 0.0, 0.05, 0.02, 0.0), "lot"),
        ErrorSource("tip follows", "arm.right.tip", six(0.01, 0.02, 0.01, 0.003, 0.004, 0.002), "shift"),
    )
    return replace(project, errors=(*project.errors, *extra))


@pytest.fixture(scope="module")
def project() -> Project:
    return more_sources(c.first_fit())


@pytest.fixture(scope="module")
def untouched(project: Project) -> Outcome:
    return build(project, N, seed=11)


@pytest.fixture(scope="module")
def touched(project: Project) -> Outcome:
    gains = {e.mate.name: np.array(e.updates[0].gain) for e in walk(given(project))}
    return build(project, N, seed=12, gains=gains)


def given(project: Project, touches: bool = True) -> Given:
    chart = c.chart()
    return Given(project, chart, sources_of(project), c.hand_poses(chart), touches)


def flat(form: Form, seen: Array) -> tuple[Form, Array]:
    """Without the height: the cover lies on the block, so its hole keeps its height over the thread."""
    rows = [0, 1, 3, 4, 5]
    return mapped(np.eye(6)[rows], form), seen[:, rows]


def assert_same_covariance(form: Form, sources: Sources, seen: Array) -> None:
    """Every entry within the sampling error of N normal draws: var = (C_ii C_jj + C_ij^2)/N."""
    told = covariance(form, sources.variances)
    found = np.cov(seen.T)
    sampling = np.sqrt((np.outer(np.diag(told), np.diag(told)) + told**2) / len(seen))
    scale = np.sqrt(np.outer(np.diag(found), np.diag(found)))
    assert (np.diag(found) > 0).sum() >= 5, "the builds must vary for this to say anything"
    off = np.abs(found - told)
    assert (off <= BOUND * sampling + 1e-9 * scale).all(), np.round(off / np.maximum(sampling, 1e-30), 1)


def test_every_mate_spreads_as_true_builds_do(project: Project, untouched: Outcome) -> None:
    g, true = given(project, touches=False), untouched
    pin, cover, screw = walk(g)
    assert_same_covariance(pin.pairs[0].delta, g.sources, true.pin)
    assert_same_covariance(cover.pairs[0].delta, g.sources, true.cover)
    assert_same_covariance(screw.pairs[0].delta, g.sources, true.screw)
    assert_same_covariance(screw.passes[0].delta, g.sources, true.screw_in_cover)
    over, seen = flat(screw.over[0].delta, true.thread_under_cover)
    assert_same_covariance(over, g.sources, seen)


def test_after_the_touch_every_mate_spreads_as_true_builds_do(project: Project, touched: Outcome) -> None:
    g, true = given(project), touched
    pin, cover, screw = walk(g)
    assert_same_covariance(pin.pairs[0].delta, g.sources, true.pin)
    assert_same_covariance(cover.pairs[0].delta, g.sources, true.cover)
    assert_same_covariance(screw.pairs[0].delta, g.sources, true.screw)
    assert_same_covariance(screw.passes[0].delta, g.sources, true.screw_in_cover)
    over, seen = flat(screw.over[0].delta, true.thread_under_cover)
    assert_same_covariance(over, g.sources, seen)


def test_the_touch_reads_what_true_builds_read_with_its_sign(project: Project, untouched: Outcome) -> None:
    g, true = given(project), untouched
    pin = walk(g)[0]
    reading = pin.readings[0].form
    told = covariance(reading, g.sources.variances)[0, 0]
    assert abs(np.var(true.reading) - told) < BOUND * told * math.sqrt(2 / N)
    assert math.isclose(pin.updates[0].sigma_reading, math.sqrt(told), rel_tol=1e-9)
    # The sign: reading and deviation go together as the form says; taking the gain back makes it smaller.
    slope = np.cov(true.pin[:, 0], true.reading)
    assert np.sign(slope[0, 1]) == np.sign(pin.updates[0].gain[0])
    left = true.pin[:, 0] - pin.updates[0].gain[0] * true.reading
    assert np.std(left) < 0.3 * np.std(true.pin[:, 0])


def test_no_other_gain_leaves_less_in_true_builds(project: Project, untouched: Outcome) -> None:
    """The gain is the best linear one: regression of the true deviation on the true reading gives it back."""
    pin, true = walk(given(project))[0], untouched
    r = true.reading - true.reading.mean()
    regressed = true.pin.T @ r / (r @ r)
    left = true.pin - np.outer(r, regressed)
    sampling = left.std(axis=0) / (r.std() * math.sqrt(N))
    assert (np.abs(regressed - np.array(pin.updates[0].gain)) < BOUND * sampling).all()


def test_the_touch_on_the_block_serves_the_later_mates_too(project: Project) -> None:
    with_touch, bare = walk(given(project)), walk(given(project, touches=False))
    sources = sources_of(project)
    for a, b in zip(with_touch, bare, strict=True):
        after, before = (covariance(e.pairs[0].delta, sources.variances)[0, 0] ** 0.5 for e in (a, b))
        assert [u.mate for u in a.updates] == [a.mate.name]
        assert after < 0.7 * before, a.mate.name
        assert not b.updates


@pytest.mark.parametrize("touches", [False, True])
def test_every_freedom_of_every_source_moves_every_mate_as_it_does_in_truth(
    project: Project, touches: bool
) -> None:
    """One freedom at a time, a thousandth of its sigma: the exact process divided by it is the form's
    Jacobian.
    """
    g = given(project, touches)
    pin, cover, screw = walk(g)
    gains = {e.mate.name: np.array(e.updates[0].gain) for e in (pin, cover, screw) if e.updates}
    plays = {entry.mate.part: entry.left.gain for entry in (pin, cover) if entry.left is not None}
    b = OneAtATime(project, 6 * len(project.errors), np.random.default_rng(0), gain=plays)
    true = done(b, gains)
    for form, seen in (
        (pin.pairs[0].delta, true.pin),
        (cover.pairs[0].delta, true.cover),
        (screw.pairs[0].delta, true.screw),
        (screw.passes[0].delta, true.screw_in_cover),
        flat(screw.over[0].delta, true.thread_under_cover),
    ):
        told = np.vstack([b.step * np.array(s.sigma)[:, None] * summed(form, s.name) for s in project.errors])
        largest = np.abs(seen).max(axis=0)
        assert (largest > 1e-9).all(), "every freedom must move for this to say anything"
        # What is left is of second order: a thousandth of sigma, squared.
        assert (np.abs(told - seen) < 1e-5 * largest).all()


def summed(form: Form, source: str) -> Array:
    """Jacobian (m, 6) of a source that errs alike at every stop, transposed: row j is what freedom j does."""
    total = sum((J for k, J in form.jacobians.items() if k.source == source), np.zeros((form.rows, 6)))
    return np.asarray(total).T


def test_a_form_of_nothing_would_not_pass(project: Project, untouched: Outcome) -> None:
    sources = sources_of(project)
    with pytest.raises(AssertionError):
        assert_same_covariance(nothing(), sources, untouched.pin)
