"""Strategies against the geometry itself: curves sampled, rims of leaned tips, parts moved as a whole."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.uncertainty.true_build import exp

from handfast.model.feature import Chamfer, Feature
from handfast.model.mate import FeaturePair, Mate
from handfast.model.strategy import BackTurn, RotateWhileLowering, Spiral, TiltAndRight
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.uncertainty.by_strategy import by_strategy
from handfast.uncertainty.entered_by import entered_by
from handfast.uncertainty.entry import Entry, PairEntry
from handfast.uncertainty.error_form import Form, nothing
from handfast.uncertainty.instances import Instance
from handfast.uncertainty.screw_condition import screw_conditions

SPIRAL = Spiral(radius=1.2e-3, pitch=0.3e-3, speed=5e-3, force=5.0, drop=0.5e-3, rest=1.0)
LEANED = TiltAndRight(math.radians(8), (0.0, 1.0, 0.0), 0.1e-3, 8e-3, 5e-3, 1.0, 5.0, 1.0)
# Half of 0.06 mm, of a pitch of pi mm, 18 teeth: 2 ceil(pi/0.06) + 1 tries.
STEPPED = RotateWhileLowering(0.06e-3 / 18e-3, 107, 0.2e-3, 1.0, 5e-3, 5.0, 0.5e-3)
HOLE, SHAFT = (
    Feature("bore", "hole", Pose(), diameter=8e-3, fit="H7", length=9e-3),
    Feature("lower", "shaft", Pose(), diameter=8e-3, fit="g6", length=9e-3),
)


def test_a_spiral_passes_every_point_of_its_disc_within_half_its_pitch() -> None:
    angle = np.linspace(0, 2 * math.pi * SPIRAL.radius / SPIRAL.pitch, 4000)
    r = SPIRAL.pitch * angle / (2 * math.pi)
    path = np.column_stack([r * np.cos(angle), r * np.sin(angle)])
    rng = np.random.default_rng(5)
    spot = rng.uniform(-1, 1, (4000, 2)) * (SPIRAL.radius - SPIRAL.pitch / 2)
    spot = spot[np.hypot(*spot.T) < SPIRAL.radius - SPIRAL.pitch / 2]
    nearest = np.array([np.hypot(*(path - p).T).min() for p in spot])
    assert nearest.max() < SPIRAL.pitch / 2 * 1.01
    length = np.hypot(*np.diff(path, axis=0).T).sum()
    # pi R^2/p is that of many turns; here there are four.
    assert SPIRAL.path == pytest.approx(length, rel=0.02)
    assert SPIRAL.seconds == pytest.approx(length / 5e-3, rel=0.02)


def test_the_angles_tried_come_within_half_the_least_backlash_of_every_phase() -> None:
    half = (STEPPED.tries - 1) // 2
    angles = STEPPED.step * np.array([*range(half + 1), *range(-1, -half - 1, -1)])
    tooth = 2 * math.pi / 18
    phase = np.random.default_rng(6).uniform(0, tooth, 5000)
    off = (phase[:, None] - angles + tooth / 2) % tooth - tooth / 2
    assert np.abs(off).min(axis=1).max() * 9e-3 <= 0.5 * 0.03e-3 * (1 + 1e-9)
    # As tried in order, each from where the last one left the hand.
    turned = np.abs(np.diff(angles)).sum() / STEPPED.rate
    assert STEPPED.seconds == pytest.approx(turned + (STEPPED.tries - 1) * 2 * 0.2e-3 / 5e-3, rel=0.01)


def test_the_edge_of_a_leaned_tip_comes_down_inside_the_hole_as_far_off_as_said() -> None:
    """The rim below the mouth, point by point, off in every direction."""
    entry = entered_by(single(SHAFT, HOLE), LEANED)
    reach = by_strategy(entry, (), 20e3)[0].allowed
    r, R, lean = 4e-3, 4e-3, LEANED.lean
    around = np.linspace(-math.pi, math.pi, 20001)
    rim = np.array(
        [r * np.cos(around) * math.cos(lean), r * np.sin(around), r * np.cos(around) * math.sin(lean)]
    )
    # z is depth, the leading point `bite` below the mouth and over the middle of the hole.
    rim += np.array([-rim[0].max(), 0, LEANED.bite - rim[2].max()])[:, None]
    below = rim[:2, rim[2] >= 0]

    def inside(off: float) -> bool:
        ways = np.linspace(0, 2 * math.pi, 361)
        centres = off * np.array([np.cos(ways), np.sin(ways)])
        return all(np.hypot(*(below + c[:, None])).max() <= R for c in centres.T)

    assert inside(reach * 0.999)
    assert not inside(reach * 1.01)


def test_what_a_spiral_finds_moves_the_whole_part() -> None:
    """Two pairs 18 mm apart and one twist of the part: a shift to the first hole's middle, to first order."""
    twist = np.array([0.4e-3, -0.3e-3, 0.1e-3, 1e-3, 2e-3, 3e-3])
    first, second = se3.translation(0, 0, 0), se3.translation(18e-3, 0, 5e-3)
    shifts = [se3.adjoint(se3.inverse(T)) for T in (first, second)]
    entry = single(SHAFT, HOLE)
    pairs = tuple(replace(entry.pairs[0], delta=constant(s @ twist), shift=s) for s in shifts)
    found = entered_by(replace(entry, pairs=pairs), SPIRAL)
    back = np.eye(4)
    back[:2, 3] = -exp(twist[None])[0][:2, 3]
    moved = back @ exp(twist[None])[0]
    for pair, T in zip(found.pairs, (first, second), strict=True):
        true = np.linalg.inv(T) @ moved @ T
        assert pair.delta.mean[:3] == pytest.approx(true[:3, 3], abs=3e-6)
    assert found.pairs[0].delta.mean[:2] == pytest.approx([0, 0], abs=1e-12)
    assert entered_by(found, None).pairs == pairs


def test_touches_have_nothing_more_to_show_across_what_a_spiral_finds() -> None:
    entry = single(SHAFT, HOLE)
    pair = replace(entry.pairs[0], shift=np.eye(6))
    found = entered_by(replace(entry, pairs=(pair,)), SPIRAL).pairs[0]
    assert not found.shift[:2, :2].any()
    assert found.shift[3:, 3:] == pytest.approx(np.eye(3))


def test_a_screw_turned_back_may_lean_by_a_whole_pitch_across_it() -> None:
    """M4, pitch 0.7 mm (ISO 261): 5.00 and 9.93 deg, by hand."""
    screw = Feature("shank", "thread", Pose(), thread="M4", chamfer=Chamfer(0.2e-3, 0.785))
    tapped = Feature("tapped", "thread", Pose(), thread="M4")
    entry = single(screw, tapped, "screw")
    straight = screw_conditions(entry)
    (own,) = by_strategy(replace(entry, strategy=BackTurn(7, 6, 5, 0.1, 2e-4, 12)), straight, 20e3)
    lean = {c.allowed_angle for c in straight}.pop()
    assert math.degrees(lean) == pytest.approx(5.0, abs=0.01)
    assert math.degrees(own.allowed_angle) == pytest.approx(9.93, abs=0.01)
    (asked,) = (r for r in own.requirements if r.name == "lean")
    assert asked.radii[0] == own.allowed_angle


def single(moving: Feature, fixed: Feature, kind: str = "insert") -> Entry:
    """An entry with one pair that does not err."""
    mate = Mate("mate", kind, "part", "body", (FeaturePair(moving.name, "body", fixed.name, 8e-3),))  # type: ignore[arg-type]
    pair = PairEntry(moving, fixed, "body", 8e-3, nothing(), np.eye(4))
    return Entry(mate, "element", (pair,), (), (), (), (), nothing(), 50.0)


def constant(mean: np.ndarray) -> Form:
    """A deviation that is always the same."""
    return Form({Instance("none"): np.zeros((6, 6))}, mean, {Instance("none"): frozenset()})
