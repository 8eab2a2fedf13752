from __future__ import annotations

import itertools

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.uncertainty.pairs import PAIRS, STIFF

from handfast.uncertainty.contact_state import contact_state
from handfast.uncertainty.jamming import jamming_parameter
from handfast.uncertainty.one_point import one_point_contact
from handfast.uncertainty.peg_in_hole import PegInHole, Support

MM = 1e-3
Array = NDArray[np.float64]


def draws(seed: int, count: int, depth: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    generator = np.random.default_rng(seed)
    lateral = generator.normal(0.0, 0.4 * MM, count)
    tilt = generator.normal(0.0, np.radians(0.4), count)
    # Every third draw is small enough to hang free in the hole at times.
    lateral[::3] *= 0.01
    tilt[::3] *= 0.03
    return lateral, tilt, generator.uniform(0.02, 1.0, count) * depth


@pytest.mark.parametrize("name", PAIRS)
def test_forces_balance_the_support_and_push_only_where_they_touch(name: str) -> None:
    # Statics written out on its own: springs at the compliance centre, four possible contacts with their
    # friction.
    peg, support = PAIRS[name]
    mu = 0.2
    lateral, tilt, depth = draws(4, 2000, peg.depth)
    state = contact_state(peg, support, mu, lateral, tilt, depth)
    lg, room = support.centre_distance, peg.radial_clearance
    kinds = {"none": 0, "one": 0, "two": 0}
    for e, th0, at, p, q in zip(lateral, tilt, depth, state.rim_force, state.tip_force, strict=True):
        start = e + lg * th0
        centre = start - (p + q) / support.lateral_stiffness
        moment = 0.0
        for force, height in ((p, at), (q, 0.0)):
            side = np.sign(force)
            # A wall on side s pushes with -s N across at radius s r, and friction mu N lifts the peg's
            # surface there.
            moment += force * (lg - height) - side * peg.peg_radius * mu * abs(force)
        turned = th0 + moment / support.angular_stiffness
        at_tip, at_rim = centre - lg * turned, centre - (lg - at) * turned
        slack = 1e-9 * MM + 1e-9 * abs(e)
        assert abs(at_tip) <= room + slack
        assert abs(at_rim) <= room + slack
        assert p == 0.0 or abs(at_rim - np.sign(p) * room) <= slack
        assert q == 0.0 or abs(at_tip - np.sign(q) * room) <= slack
        kinds[("none", "one", "two")[int(p != 0.0) + int(q != 0.0)]] += 1
    assert min(kinds.values()) > 50, kinds


def energy(support: Support, lateral: Array, tilt: Array, depth: Array, rim: Array, tip: Array) -> Array:
    """Spring energy of poses given by the axis at rim and tip."""
    turned = (rim - tip) / depth
    shift = tip - lateral + support.centre_distance * (turned - tilt)
    return 0.5 * (support.lateral_stiffness * shift**2 + support.angular_stiffness * (turned - tilt) ** 2)


@pytest.mark.parametrize("name", PAIRS)
def test_without_friction_the_contact_has_least_spring_energy(name: str) -> None:
    # Independent method: minimise the energy over all poses that fit in the hole, one coordinate at a time. A
    # step
    # is exact, for the energy is a parabola along a coordinate: three values give it.
    peg, support = PAIRS[name]
    lateral, tilt, depth = draws(5, 200, peg.depth)
    room = peg.radial_clearance

    def at(rim: Array, tip: Array) -> Array:
        return energy(support, lateral, tilt, depth, rim, tip)

    rim, tip = np.zeros_like(lateral), np.zeros_like(lateral)
    for _ in range(3000):
        before = at(rim, tip)
        up, down = at(rim + room, tip), at(rim - room, tip)
        slope, bend = up - down, up + down
        rim = np.clip(rim - 0.5 * room * slope / (bend - 2 * at(rim, tip)), -room, room)
        up, down = at(rim, tip + room), at(rim, tip - room)
        slope, bend = up - down, up + down
        tip = np.clip(tip - 0.5 * room * slope / (bend - 2 * at(rim, tip)), -room, room)
        if np.all(before - at(rim, tip) <= 1e-13 * before):
            break
    state = contact_state(peg, support, 1e-12, lateral, tilt, depth)
    p, q, lg = state.rim_force, state.tip_force, support.centre_distance
    turned = tilt + (p * (lg - depth) + q * lg) / support.angular_stiffness
    centre = lateral + lg * tilt - (p + q) / support.lateral_stiffness
    at_rim, at_tip = centre - (lg - depth) * turned, centre - lg * turned
    assert max(np.abs(at_rim).max(), np.abs(at_tip).max()) <= room * (1 + 1e-9)
    # It fits in the hole and no pose that fits has less energy: it is the least one.
    found, least = at(at_rim, at_tip), at(rim, tip)
    assert np.median(least) > 1e-5
    assert np.all(found <= least * (1 + 1e-9) + 1e-15)


def test_agrees_with_one_point_contact() -> None:
    peg, support = STIFF
    lateral, tilt = 0.3 * MM, 0.002
    state = contact_state(peg, support, 0.2, np.array([lateral]), np.array([tilt]), np.array([0.3 * MM]))
    expected = one_point_contact(peg, support, 0.2, lateral, tilt, 0.3 * MM)
    assert state.tip_force[0] == 0.0
    assert state.axial_force(0.2)[0] == pytest.approx(expected.axial_force, rel=1e-9)


def test_two_point_forces_lie_on_the_jamming_diagram() -> None:
    # Sliding two-point contact is the upper or lower edge of Whitney's parallelogram: M/(r Fz) = +-lam - mu
    # (1 + lam)
    # Fx/Fz, with the support's forces moved to the tip.
    peg, support = STIFF
    mu = 0.2
    lateral, tilt, depth = draws(6, 3000, peg.depth)
    state = contact_state(peg, support, mu, lateral, tilt, depth)
    p, q = state.rim_force, state.tip_force
    opposite = (p * q < 0.0) & (p > 0.0)
    assert opposite.sum() > 50
    p, q, at = p[opposite], q[opposite], depth[opposite]
    pressing = mu * (p - q)
    # Applied force at the tip along the push of the rim's wall, applied moment about the tip that turns it
    # likewise.
    across = p + q
    moment = -p * at + mu * peg.peg_radius * (-p - q)
    lam = np.array([jamming_parameter(peg, mu, float(value)) for value in at])
    edge = moment / (peg.peg_radius * pressing) + mu * (1.0 + lam) * across / pressing
    assert np.abs(np.abs(edge) - lam).max() < 1e-9


def test_mirrored_errors_give_mirrored_forces() -> None:
    peg, support = STIFF
    lateral, tilt, depth = draws(7, 500, peg.depth)
    one = contact_state(peg, support, 0.2, lateral, tilt, depth)
    other = contact_state(peg, support, 0.2, -lateral, -tilt, depth)
    assert np.allclose(one.rim_force, -other.rim_force)
    assert np.allclose(one.tip_force, -other.tip_force)


def test_geometry_and_support_refuse_nonsense() -> None:
    for hole, shaft in ((5.0, 5.0), (5.0, 5.1), (5.0, -1.0)):
        with pytest.raises(ValueError, match="peg radius < hole radius"):
            PegInHole(hole * MM, shaft * MM, 10 * MM)
    for depth, width, angle in itertools.product((0.0, 1e-3), (-1e-3, 0.0), (0.0, 0.7)):
        if (depth, width, angle) != (1e-3, 0.0, 0.7):
            with pytest.raises(ValueError, match="depth > 0"):
                PegInHole(5.01 * MM, 5 * MM, depth, width, angle)
    with pytest.raises(ValueError, match="positive stiffnesses"):
        Support(-1.0, 1.0, 0.1)
