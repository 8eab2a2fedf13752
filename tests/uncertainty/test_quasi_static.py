from __future__ import annotations

import math

import numpy as np
import pytest
from tests.uncertainty.pairs import PAIRS, STIFF

from handfast.uncertainty.chamfer import chamfer_force_rate
from handfast.uncertainty.contact_state import contact_state
from handfast.uncertainty.onset import onset_depth
from handfast.uncertainty.peg_in_hole import PegInHole, Support
from handfast.uncertainty.quasi_static import planar_errors, quasi_static

MM = 1e-3
MU = 0.2


def draws(seed: int, count: int) -> tuple[np.ndarray, np.ndarray]:
    generator = np.random.default_rng(seed)
    return generator.normal(0.0, 0.5 * MM, count), generator.normal(0.0, math.radians(0.3), count)


@pytest.mark.parametrize("name", PAIRS)
def test_peak_force_is_that_of_a_fine_sweep(name: str) -> None:
    peg, support = PAIRS[name]
    lateral, tilt = draws(11, 2000)
    found = quasi_static(peg, support, MU, lateral, tilt).peak_force
    depths = np.geomspace(1e-5, 1.0, 800)[:, None] * peg.depth
    swept = contact_state(peg, support, MU, lateral, tilt, depths).axial_force(MU).max(axis=0)
    pushed = np.maximum(np.abs(lateral) - peg.radial_clearance, 0.0)
    swept = np.maximum(swept, pushed * chamfer_force_rate(peg, support, MU))
    assert swept.max() > 10.0
    # The sweep itself misses the peak by up to 0.01 %; the model must never lie below it.
    assert np.all(found >= swept * (1 - 1e-9))
    assert np.allclose(found, swept, rtol=2e-4, atol=1e-6)


@pytest.mark.parametrize("name", PAIRS)
def test_onset_is_where_a_fine_sweep_first_touches_on_both_sides(name: str) -> None:
    peg, support = PAIRS[name]
    lateral, tilt = draws(12, 1000)
    onset = onset_depth(peg, support, MU, lateral, tilt)
    depths = np.geomspace(1e-3, 1.0, 1500)[:, None] * peg.depth
    state = contact_state(peg, support, MU, lateral, tilt, depths)
    both = state.rim_force * state.tip_force < 0.0
    first = np.where(both.any(axis=0), depths[both.argmax(axis=0), 0], np.inf)
    within = onset < peg.depth
    assert 50 < within.sum() < 990
    assert np.array_equal(within, np.isfinite(first))
    step = depths[1, 0] / depths[0, 0]
    assert np.all(onset[within] <= first[within] * (1 + 1e-9))
    assert np.all(onset[within] >= first[within] / step * (1 - 1e-9))


def test_peak_of_two_point_contact_follows_its_closed_form() -> None:
    # Derived: F = 2 mu M/l with M = K (th - 2 cR/l) peaks at l = 4 cR/th with mu K th^2/(4 cR); nothing holds
    # the peg sideways here.
    peg = PegInHole(1.01 * MM, 1.0 * MM, 100 * MM, 0.0)
    support = Support(1e-6, 30.0, 0.0)
    tilt = np.array([0.01])
    found = quasi_static(peg, support, 0.1, np.array([0.0]), tilt).peak_force[0]
    closed = 0.1 * 30.0 * 0.01**2 / (4 * 0.01 * MM)
    assert found == pytest.approx(closed, rel=1e-6)


def test_capture_ends_at_chamfer_width_plus_clearance() -> None:
    peg, support = STIFF
    edge = peg.capture_radius
    found = quasi_static(peg, support, MU, np.array([0.999 * edge, 1.001 * edge, -1.001 * edge]), np.zeros(3))
    assert found.captured.tolist() == [True, False, False]


def test_a_centred_straight_peg_goes_in_without_force() -> None:
    peg, support = STIFF
    found = quasi_static(peg, support, MU, np.zeros(1), np.zeros(1))
    assert found.peak_force[0] == 0.0
    assert math.isinf(found.onset[0])
    assert not found.wedge[0]
    assert found.goes_in(1.0)[0]


def test_a_chamfer_that_holds_itself_stops_what_must_slide_on_it() -> None:
    peg = PegInHole(5.01 * MM, 5.0 * MM, 10 * MM, 1 * MM, math.radians(20))
    support = Support(10e3, 1e4, 0.01)
    found = quasi_static(peg, support, 0.5, np.array([0.0, 0.5 * MM]), np.zeros(2))
    assert found.goes_in(100.0).tolist() == [True, False]


def test_wedging_is_flagged_where_two_points_touch_above_mu_d() -> None:
    peg, support = STIFF
    limit = peg.clearance_ratio / MU  # Whitney: c/mu
    found = quasi_static(peg, support, MU, np.zeros(2), np.array([0.95 * limit, 1.05 * limit]))
    assert found.wedge.tolist() == [False, True]


def test_blocks_do_not_change_the_answer() -> None:
    peg, support = STIFF
    lateral, tilt = draws(13, 20_000)
    whole = quasi_static(peg, support, MU, lateral, tilt)
    part = quasi_static(peg, support, MU, lateral[8000:9000], tilt[8000:9000])
    assert np.array_equal(whole.peak_force[8000:9000], part.peak_force)
    assert np.array_equal(whole.onset[8000:9000], part.onset)


def test_errors_in_any_plane_become_the_planar_ones() -> None:
    _, support = STIFF
    lateral, tilt = draws(14, 50)
    for angle in (0.0, 0.7, 2.5):
        direction = np.array([math.cos(angle), math.sin(angle)])
        found = planar_errors(lateral[:, None] * direction, tilt[:, None] * direction, support)
        sign = np.sign(tilt + support.coupling * lateral)
        assert np.allclose(found[0], sign * lateral)
        assert np.allclose(found[1], sign * tilt)
