from __future__ import annotations

import math

import numpy as np
import pytest
from tests.uncertainty.pairs import PAIRS, SOFT, STIFF

from handfast.uncertainty.allowed_region import Disc, allowed_region, inside, turned_rows
from handfast.uncertainty.band import Band, block_covariance, insertion_band, mixed_band
from handfast.uncertainty.disc_probability import disc_probability
from handfast.uncertainty.margin import margin_ratio
from handfast.uncertainty.peg_in_hole import PegInHole, Support
from handfast.uncertainty.quasi_static import planar_errors, quasi_static
from handfast.uncertainty.region_probability import region_probability, unit_directions

MM = 1e-3
# Force limits [N] at which each pair fails often enough to compare.
LIMITS = {"stiff": 40.0, "soft": 6.0, "remote": 8.0}
LATERAL = Disc("lateral", ((1.0, 0.0, 0.0, 0.0), (0.0, 1.0, 0.0, 0.0)), 1.0)


def covariance(seed: int) -> np.ndarray:
    """A full covariance with coupled lateral and angular errors of about 0.3 mm and 0.2 deg."""
    root = np.random.default_rng(seed).normal(size=(4, 4))
    scale = np.diag([0.3 * MM, 0.3 * MM, math.radians(0.2), math.radians(0.2)])
    return scale @ (root @ root.T / 4.0) @ scale


def test_one_disc_agrees_with_the_plane_integral() -> None:
    sigma = np.array([[0.6, 0.2], [0.2, 0.3]])
    full = block_covariance(sigma, np.eye(2))
    for mean in ((0.0, 0.0), (0.4, 0.3), (1.5, 0.0)):
        found = region_probability(full, (LATERAL,), np.array([*mean, 0.0, 0.0]))
        assert found == pytest.approx(disc_probability(sigma, 1.0, np.array(mean)), abs=1.5e-3)


def test_rare_failures_are_exact_too() -> None:
    # Closed form exp(-R^2/2) for a round lateral error: 3.7e-6 and 1.3e-14 outside.
    for radius in (5.0, 8.0):
        found = 1 - region_probability(np.eye(4), (Disc("lateral", LATERAL.rows, radius),))
        assert found == pytest.approx(math.exp(-0.5 * radius**2), rel=0.03, abs=3e-16)


@pytest.mark.parametrize("name", PAIRS)
@pytest.mark.parametrize("seed", [1, 2])
def test_region_probability_agrees_with_sampling(name: str, seed: int) -> None:
    peg, support = PAIRS[name]
    region = allowed_region(peg, support, 0.2, LIMITS[name])
    sigma = covariance(seed)
    mean = np.array([0.1 * MM, 0.0, 0.0, math.radians(0.05)])
    count = 200_000
    drawn = np.random.default_rng(77).multivariate_normal(mean, sigma, count)
    for discs in (region.goes_in, (*region.goes_in, region.no_wedge)):
        share = float(inside(discs, drawn).mean())
        found = region_probability(sigma, discs, mean)
        assert 0.01 < share < 0.999
        assert (
            abs(found - share) < 3 * math.sqrt(share * (1 - share) / count) + 1e-3
        )  # + the direction set's error


def test_directions_cover_the_sphere_evenly() -> None:
    points = unit_directions(4096)
    assert np.allclose(np.linalg.norm(points, axis=1), 1.0)
    assert np.abs(points.mean(axis=0)).max() < 1e-12
    assert np.allclose(points.T @ points / 4096, np.eye(4) / 4, atol=2e-3)
    # Fourth moment of a coordinate on S^3: 3/24.
    assert np.mean(points**4, axis=0) == pytest.approx([0.125] * 4, abs=2e-3)


@pytest.mark.parametrize("name", PAIRS)
def test_region_agrees_with_the_full_quasi_static_model(name: str) -> None:
    # The discs are an approximation of the planar model: at most 1 % of draws may be judged differently, and
    # the
    # approximation has to err to the safe side on balance.
    peg, support = PAIRS[name]
    mu, limit = 0.2, LIMITS[name]
    generator = np.random.default_rng(51)
    lateral = generator.normal(0.0, 0.3 * MM, 20_000)
    tilt = generator.normal(0.0, math.radians(0.2), 20_000)
    errors = np.stack([lateral, 0 * lateral, 0 * lateral, -tilt], axis=1)
    region = allowed_region(peg, support, mu, limit)
    full = quasi_static(peg, support, mu, lateral, tilt)
    goes_in, fast = full.goes_in(limit), inside(region.goes_in, errors)
    assert 0.3 < goes_in.mean() < 0.999
    assert np.mean(goes_in != fast) < 0.01
    assert fast.mean() <= goes_in.mean() + 1e-3
    safe, fast = goes_in & ~full.wedge, inside((*region.goes_in, region.no_wedge), errors)
    assert np.mean(safe != fast) < 0.01


def test_force_disc_of_a_hole_too_shallow_for_the_peak() -> None:
    # At 4 N the peak of two-point contact lies deeper than the hole: the force at full depth counts.
    peg, support = STIFF
    generator = np.random.default_rng(53)
    lateral = generator.normal(0.0, 0.1 * MM, 20_000)
    tilt = generator.normal(0.0, math.radians(0.2), 20_000)
    errors = np.stack([lateral, 0 * lateral, 0 * lateral, -tilt], axis=1)
    full = quasi_static(peg, support, 0.3, lateral, tilt).goes_in(4.0)
    assert 0.1 < full.mean() < 0.5
    assert np.mean(full != inside(allowed_region(peg, support, 0.3, 4.0).goes_in, errors)) < 0.01


def test_wedging_disc_agrees_with_the_onset_of_two_point_contact() -> None:
    # With the force limit out of the way, on the pair for which wedging is common.
    peg, support = SOFT
    generator = np.random.default_rng(52)
    for spread, degrees in ((0.3 * MM, 0.05), (0.1 * MM, 0.2)):
        lateral = generator.normal(0.0, spread, 20_000)
        tilt = generator.normal(0.0, math.radians(degrees), 20_000)
        errors = np.stack([0 * lateral, lateral, tilt, 0 * lateral], axis=1)
        wedge = quasi_static(peg, support, 0.3, lateral, tilt).wedge
        assert 0.03 < wedge.mean() < 0.6
        disc = allowed_region(peg, support, 0.3, 40.0).no_wedge
        assert np.mean(inside((disc,), errors) == wedge) < 0.005


def test_signs_of_a_tilted_frame() -> None:
    # A shaft turned by +ry about y in the hole's frame leans its compliance centre, behind the tip, to -x:
    # its tip
    # is on the + side of the centre, which is a negative tilt in Whitney's sign. Worked from the rotation
    # matrix.
    _, support = STIFF
    turn = 0.01
    rotation_y = np.array([[np.cos(turn), 0, np.sin(turn)], [0, 1, 0], [-np.sin(turn), 0, np.cos(turn)]])
    centre = rotation_y @ np.array([0.0, 0.0, -support.centre_distance])
    whitney = centre[0] / support.centre_distance  # tip at 0 = centre - Lg th
    rows = np.array(turned_rows(support.coupling))
    assert (rows @ np.array([0.0, 0.0, 0.0, turn]))[0] == pytest.approx(whitney, rel=1e-4)
    rotation_x = np.array([[1, 0, 0], [0, np.cos(turn), -np.sin(turn)], [0, np.sin(turn), np.cos(turn)]])
    centre = rotation_x @ np.array([0.0, 0.0, -support.centre_distance])
    assert (rows @ np.array([0.0, 0.0, turn, 0.0]))[1] == pytest.approx(
        centre[1] / support.centre_distance, rel=1e-4
    )


def test_band_encloses_the_quasi_static_rate_in_space() -> None:
    # 3-D draws through the planar model in the plane of correction, at both ends of the friction range.
    peg, support = SOFT
    sigma = np.diag([0.25 * MM, 0.15 * MM, math.radians(0.15), math.radians(0.1)]) ** 2
    band = insertion_band(sigma, peg, support, (0.1, 0.3), 40.0)
    assert band.low < band.high
    drawn = np.random.default_rng(8).multivariate_normal(np.zeros(4), sigma, 50_000)
    lean = np.stack([-drawn[:, 3], drawn[:, 2]], axis=1)
    for mu in (0.1, 0.2, 0.3):
        lateral, tilt = planar_errors(drawn[:, :2], lean, support)
        caught = np.hypot(drawn[:, 0], drawn[:, 1]) <= peg.capture_radius
        rate = float(np.mean(caught & quasi_static(peg, support, mu, lateral, tilt).goes_in(40.0)))
        assert band.low - 0.01 < rate < band.high + 0.01


def test_band_ends_move_the_right_way() -> None:
    peg, support = STIFF
    sigma = np.diag([0.3 * MM, 0.3 * MM, math.radians(0.1), math.radians(0.1)]) ** 2
    plain = insertion_band(sigma, peg, support, (0.15, 0.15), 60.0)
    spread = insertion_band(sigma, peg, support, (0.1, 0.3), 60.0)
    assert spread.low < plain.low <= plain.high < spread.high
    assert insertion_band(sigma, peg, support, (0.15, 0.15), 30.0).high < plain.high
    assert insertion_band(4 * sigma, peg, support, (0.15, 0.15), 60.0).high < plain.high
    biased = insertion_band(sigma, peg, support, (0.15, 0.15), 60.0, mean=np.array([0.4 * MM, 0, 0, 0]))
    assert biased.high < plain.high


def test_band_names_the_regime_it_cannot_answer_for() -> None:
    # Small, centred errors: sure. Tilt beyond c/mu at a close fit: wedging. Tilt of a wide short peg with
    # little
    # friction: the chamfer's exit.
    peg, support = STIFF
    tiny = np.diag([10e-6, 10e-6, 1e-4, 1e-4]) ** 2
    sure = insertion_band(tiny, peg, support, (0.1, 0.2), 40.0)
    assert (sure.model_dependent, sure.reason) == (False, "")
    assert sure.low > 0.9999
    soft = Support(2e3, 5.0, 0.02)
    tilting = np.diag([10e-6, 10e-6, math.radians(0.5), math.radians(0.5)]) ** 2
    wedging = insertion_band(tilting, peg, soft, (0.2, 0.4), 200.0)
    assert wedging.model_dependent
    assert "wedge" in wedging.reason
    assert wedging.high - wedging.low > 0.1
    slippery = insertion_band(tilting, peg, soft, (0.02, 0.03), 200.0)
    assert slippery.model_dependent
    assert "chamfer's exit" in slippery.reason
    assert slippery.low > 0.99


def test_a_missing_or_self_holding_chamfer_leaves_only_the_clearance() -> None:
    bare = PegInHole(5.05 * MM, 5.0 * MM, 15 * MM, 0.0)
    assert allowed_region(bare, STIFF[1], 0.2, 40.0).capture.radius == pytest.approx(0.05 * MM)
    steep = PegInHole(5.05 * MM, 5.0 * MM, 15 * MM, 1 * MM, math.radians(15))
    assert allowed_region(steep, STIFF[1], 0.3, 40.0).capture.radius == pytest.approx(0.05 * MM)


def test_force_limit_shortens_the_chamfer_that_can_be_used() -> None:
    peg, support = STIFF
    weak, strong = (allowed_region(peg, support, 0.2, limit).capture.radius for limit in (2.0, 1e4))
    assert weak < strong == pytest.approx(peg.capture_radius)


def test_allowed_errors_are_those_at_the_edge_of_the_region() -> None:
    peg, support = STIFF
    region = allowed_region(peg, support, 0.2, 40.0)
    discs = (*region.goes_in, region.no_wedge)
    for share, expected in ((0.999, True), (1.001, False)):
        edge = np.array([[share * region.allowed_lateral, 0, 0, 0], [0, 0, 0, share * region.allowed_tilt]])
        assert inside(discs, edge).tolist() == [expected, expected]


def test_mixed_band_averages() -> None:
    one = Band(0.8, 0.9, False, 0.0, "")
    other = Band(0.4, 1.0, True, 0.05, "because")
    found = mixed_band([one, other], [0.75, 0.25])
    assert (found.low, found.high) == pytest.approx((0.7, 0.925))
    assert (found.model_dependent, found.reason) == (True, "because")
    with pytest.raises(ValueError, match="summing to 1"):
        mixed_band([one, other], [0.5, 0.4])


def test_refuses_nonsense() -> None:
    peg, support = STIFF
    with pytest.raises(ValueError, match="no negative variance"):
        insertion_band(np.diag([1.0, 1.0, 1.0, -1.0]), peg, support, (0.1, 0.2), 40.0)
    with pytest.raises(ValueError, match="4 x 4"):
        insertion_band(np.eye(2), peg, support, (0.1, 0.2), 40.0)
    with pytest.raises(ValueError, match="friction \\(low, high\\)"):
        insertion_band(np.eye(4), peg, support, (0.3, 0.2), 40.0)
    with pytest.raises(ValueError, match="0 < mu"):
        insertion_band(np.eye(4), peg, support, (0.0, 0.2), 40.0)
    with pytest.raises(ValueError, match="positive force limit"):
        insertion_band(np.eye(4), peg, support, (0.1, 0.2), 0.0)


def test_margin_ratio() -> None:
    assert margin_ratio(0.3, 0.05) == pytest.approx(2.0)
    assert margin_ratio(0.3, 0.05, bias=-0.15) == pytest.approx(1.0)
    assert margin_ratio(0.3, 0.05, bias=0.45) == pytest.approx(-1.0)
    assert margin_ratio(0.3, 0.0) == math.inf
    with pytest.raises(ValueError, match="sigma >= 0"):
        margin_ratio(0.3, -0.1)
