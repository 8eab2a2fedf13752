"""Where contact leaves a part in its play, against draws that are simply pushed back into the clearance."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.uncertainty import first_fit_chart as c

from handfast.model.error_source import ErrorSource
from handfast.uncertainty.draws_matrix import draws_matrix
from handfast.uncertainty.error_form import Form, covariance
from handfast.uncertainty.instances import Instance
from handfast.uncertainty.left_in_play import LeftInPlay, left_in_play
from handfast.uncertainty.sources import Sources, sources_of

Array = NDArray[np.float64]
UM = 1e-6
AT: dict[Instance, frozenset[str]] = {Instance("hand"): frozenset()}
PLAY = Instance("play in cover-on-block")
# Cover on pin, 8 E9/g6: radial clearance (43 + 9.5)/2 um in the middle; limits at three sigma.
GRIP = 20e-3  # of no matter for a cover, which lies on its face
RADIUS, SPREAD = 26.25 * UM, math.hypot(36, 9) / 6 / 2 * UM


def sources(sigma: float) -> Sources:
    hand = ErrorSource("hand", "arm.left.tip", (sigma, sigma / 2, 0.0, 0.0, 0.0, 0.0), "cycle")
    return sources_of(replace(c.PROJECT, errors=(hand,)))


def left(sigma: float, mean: tuple[float, float] = (0.0, 0.0)) -> tuple[LeftInPlay, Form, Sources]:
    """The cover, pushed by a hand that errs so much along x and half as much along y."""
    delta = Form({Instance("hand"): np.eye(6)}, np.array([*mean, 0.0, 0.0, 0.0, 0.0]), AT)
    known = sources(sigma)
    found = left_in_play(
        c.PROJECT.product.mate("cover-on-block"), c.PROJECT, PLAY, delta, GRIP, known.variances
    )
    return found, found.form(known.variances, "cover-on-block"), known


def pushed_back(sigma: float, mean: tuple[float, float], n: int) -> tuple[Array, Array]:
    """Offsets (n, 2) that the hand has, and those that are left."""
    rng = np.random.default_rng(286)
    d = np.array(mean) + rng.standard_normal((n, 2)) * (sigma, sigma / 2)
    size = np.hypot(*d.T)
    return d, d * np.minimum(1.0, rng.normal(RADIUS, SPREAD, n) / size)[:, None]


@pytest.mark.parametrize(
    ("sigma", "mean"), [(8 * UM, (0.0, 0.0)), (30 * UM, (10 * UM, -5 * UM)), (400 * UM, (0.0, 0.0))]
)
def test_mean_covariance_and_what_it_shares_with_the_hand(sigma: float, mean: tuple[float, float]) -> None:
    _, form, known = left(sigma, mean)
    d, p = pushed_back(sigma, mean, 400_000)
    assert form.mean[:2] == pytest.approx(p.mean(axis=0), abs=0.01 * RADIUS)
    assert covariance(form, known.variances)[:2, :2] == pytest.approx(np.cov(p.T), abs=0.02 * RADIUS**2)
    with_hand = form.jacobians[Instance("hand")] @ np.diag(known.variances(Instance("hand")))
    across = (p - p.mean(axis=0)).T @ (d - d.mean(axis=0)) / len(d)
    assert with_hand[:2, :2] == pytest.approx(across, abs=0.02 * RADIUS * sigma)


def test_a_hand_far_outside_the_play_pushes_the_part_against_the_wall() -> None:
    """R d/|d| with d round and wide: E[p d] = R E|d|, and E|d| = sigma sqrt(pi/2) (Rayleigh)."""
    wide = 1e-3
    delta = Form({Instance("round"): np.eye(6)}, np.zeros(6), {Instance("round"): frozenset()})
    hand = ErrorSource("round", "arm.left.tip", (wide, wide, 0.0, 0.0, 0.0, 0.0), "cycle")
    known = sources_of(replace(c.PROJECT, errors=(hand,)))
    mate = c.PROJECT.product.mate("cover-on-block")
    found = left_in_play(mate, c.PROJECT, PLAY, delta, GRIP, known.variances)
    expected = RADIUS / wide * math.sqrt(math.pi / 2) / 2
    assert np.diag(found.gain) == pytest.approx([expected] * 2, rel=0.02)


def test_a_hand_well_inside_the_play_leaves_the_part_where_it_has_it() -> None:
    found, form, known = left(2 * UM)
    assert found.gain == pytest.approx(np.eye(2), abs=1e-3)
    assert form.jacobians[PLAY][:2, :2] * known.by_name[PLAY.source].sigma[0] == pytest.approx(
        0, abs=0.05 * UM
    )


def test_draws_of_the_play_bring_the_part_to_where_contact_leaves_it() -> None:
    """Form and draws together are p(d) itself, build by build, not only on average."""
    found, form, known = left(60 * UM)
    draws = draws_matrix([form], known)
    rng = np.random.default_rng(7)
    size = rng.standard_normal(500)
    unit = rng.standard_normal((len(draws.columns), 500))
    of_hand = draws_matrix([found.pushed], known)
    at = [draws.columns.index(column) for column in of_hand.columns]
    d = of_hand.mean[:, None] + of_hand.matrix @ unit[at]
    for freedom, values in zip(found.freedoms, found.unit(d, size), strict=True):
        unit[draws.columns.index((PLAY, freedom))] = values
    lies = (draws.mean[:, None] + draws.matrix @ unit)[:2]
    radius = RADIUS + SPREAD * size
    assert np.hypot(*lies) == pytest.approx(np.minimum(np.hypot(*d), radius), rel=1e-9)
    assert np.arctan2(lies[1], lies[0]) == pytest.approx(np.arctan2(d[1], d[0]), abs=1e-9)
