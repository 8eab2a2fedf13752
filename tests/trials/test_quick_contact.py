"""The fast contact solver: shapes, several pairs at once, and the physics engine beside it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.trials.insertions import gears, over_the_ridge, peg, two_lobes

from handfast.model.strategy import RotateWhileLowering
from handfast.spatial import se3
from handfast.trials.engine_contact import insert_in_engine
from handfast.trials.gear_teeth import GearTeeth, thinner_for
from handfast.trials.insertion import Loose, Pair, Piece
from handfast.trials.quick_contact import insert_quickly
from handfast.trials.strategies import insert_by, turns


def test_equal_tasks_give_equal_answers() -> None:
    first, second = insert_quickly(peg(0.3e-3, 2e-3)), insert_quickly(peg(0.3e-3, 2e-3))
    assert (first.peak_force, first.steps) == (second.peak_force, second.steps)
    assert np.array_equal(first.T_held, second.T_held)


@pytest.mark.parametrize(("offset", "tilt"), [(0.3e-3, 0.0), (0.1e-3, 4e-3), (0.6e-3, 0.0), (0.0, 0.03)])
def test_it_says_what_the_engine_says(offset: float, tilt: float) -> None:
    quick, engine = (solve(peg(offset, tilt, depth=10e-3)) for solve in (insert_quickly, insert_in_engine))
    assert (quick.outcome, quick.cause) == (engine.outcome, engine.cause)
    assert quick.valid
    assert engine.valid


def test_what_the_hand_feels_is_statics() -> None:
    """By hand: on a chamfer of 45 deg the force along is that across times (1 + mu) / (1 - mu); with one
    point of contact past it the hand is pushed aside by Kx Kt (e - c) / (Kx L^2 + Kt) and dragged by mu
    times that (Whitney 1982, from memory), and that force turns it about its centre, L away."""
    task = peg(0.3e-3)
    found = insert_quickly(task)
    travel, along, across, moment = found.felt.T
    assert np.all(np.diff(travel) > 0)
    assert along.max() == pytest.approx(found.peak_force)
    crossing = (travel > 1.4e-3) & (travel < 1.6e-3)
    assert along[crossing] / across[crossing] == pytest.approx(1.15 / 0.85, rel=0.01)
    stiff, angular, length = task.support.lateral, task.support.angular, 30e-3
    aside = stiff * angular * (0.3e-3 - 25e-6) / (stiff * length**2 + angular)
    past = int(np.argmax(travel > 1.9e-3))
    assert across[past] == pytest.approx(aside, rel=0.03)
    assert along[past] == pytest.approx(0.15 * aside, rel=0.05)
    assert moment[past] == pytest.approx(aside * length, rel=0.06)
    assert np.abs(found.felt[0, 1:]).max() < 1e-9, "in the air it feels nothing"


def test_two_pegs_need_their_holes_where_they_are() -> None:
    assert insert_quickly(two_lobes((0.1e-3, 0.2e-3))).outcome == "ok"
    # Holes 60 um further apart than pegs of 25 um radial clearance can reach: no place for both.
    assert insert_quickly(two_lobes((0.0, 0.0), spread=60e-6)).outcome == "failed"
    # A slot along the line of centres takes that up.
    assert insert_quickly(two_lobes((0.0, 0.0), slot=0.1e-3, spread=60e-6)).outcome == "ok"
    assert insert_in_engine(two_lobes((0.0, 0.0), slot=0.1e-3, spread=60e-6)).outcome == "ok"


def test_which_pair_missed_is_told() -> None:
    missed = insert_quickly(two_lobes((0.0, 0.7e-3)))
    assert missed.cause == "missed the chamfer of hole"


def test_a_loose_part_yields_within_its_play() -> None:
    # The hole stands 60 um aside on a loose part: it goes along, and the peg enters without a side force of
    # its own.
    task = peg(60e-6, azimuth=0.0)
    loose = replace(
        task, pieces=(task.pieces[0], replace(task.pieces[1], body=1)), loose=(Loose("block", np.eye(4)),)
    )
    fixed, moved = insert_quickly(task), insert_quickly(loose)
    assert moved.outcome == fixed.outcome == "ok"
    assert moved.peak_force < 0.5 * fixed.peak_force
    assert moved.T_loose[0][0, 3] == pytest.approx(60e-6 - 25e-6, abs=3e-6)


def test_gears_mesh_within_half_the_backlash() -> None:
    # Straight down, sharp ends: |phase| < backlash / 2 along the pitch circle. Measured 2.3 to 2.8 um wider:
    # a body may begin a step 2 um deep in a wall, and flanks are points 0.08 mm apart.
    for backlash in (60e-6, 120e-6):
        inside, outside = 0.5 * backlash - 5e-6, 0.5 * backlash + 5e-6
        for sign in (-1, 1):
            assert insert_quickly(gears(sign * inside, backlash)).outcome == "ok"
            out = insert_quickly(gears(sign * outside, backlash))
            assert out.cause == "the teeth stand on the other gear's"


def test_the_engine_meshes_the_same_teeth() -> None:
    assert insert_in_engine(gears(0.0)).outcome == "ok"
    assert insert_in_engine(gears(0.5e-3)).cause == "the teeth stand on the other gear's"


def test_tooth_thickness_gives_the_drawn_backlash() -> None:
    # Half the pitch at the pitch circle is pi m / 2 (ISO 21771); two teeth thinner by 45 um each leave 90 um.
    gear = GearTeeth(18, 1e-3, 9.97e-3, 0.0, 9.96e-3)
    assert thinner_for(90e-6, gear, gear, 18e-3) == pytest.approx(45e-6)
    # Centres 30 um further apart open 2 x 30 um x tan 20 deg = 21.8 um.
    assert thinner_for(90e-6, gear, gear, 18.03e-3) == pytest.approx(0.5 * (90e-6 - 21.84e-6), abs=0.01e-6)
    arc = 2 * 9e-3 * float(replace(gear, thinner=45e-6).half_angle(np.array([9e-3]))[0])
    assert arc == pytest.approx(np.pi * 1e-3 / 2 - 45e-6, abs=1e-12)


TURN = RotateWhileLowering(step=3.3e-3, tries=107, lift=2e-4, rate=1.0, speed=5e-3, force=5.0, drop=1e-3)


def test_a_gear_is_turned_until_it_drops() -> None:
    assert insert_by(None, gears(0.4e-3), insert_quickly).outcome == "failed"
    found = insert_by(TURN, gears(0.4e-3), insert_quickly)
    assert found.outcome == "ok"
    assert 0.0 < found.searched < 1.0
    few = replace(TURN, tries=5)
    assert insert_by(few, gears(0.4e-3), insert_quickly).cause == "the teeth stand on the other gear's"


def test_the_angles_of_the_tries() -> None:
    few = replace(TURN, step=1.0, tries=5)
    assert turns(few).tolist() == [0.0, 1.0, 2.0, -1.0, -2.0]


def test_a_wall_that_another_hole_takes_away_does_not_hold() -> None:
    # A hole of 20 mm whose neighbour opens into it 18 mm away: a peg may stand further over where there is no
    # wall.
    task = peg(0.0, diameter=20e-3, clearance=40e-6, depth=2e-3)
    hole = replace(task.pieces[1], opens_into=2)
    beside = Piece("beside", -1, task.pieces[1].shape, se3.translation(18e-3, 0, 0))
    open_ = replace(task, pieces=(task.pieces[0], hole, beside), pairs=(Pair(0, 1, 20e-6),))
    assert insert_quickly(open_).outcome == "ok"


@pytest.mark.parametrize("friction", [0.0, 0.15])
@pytest.mark.parametrize("offset", [0.2e-3, 0.35e-3, 0.5e-3, 0.6e-3])
def test_a_rim_slides_over_the_ridge_between_two_holes(offset: float, friction: float) -> None:
    """Force by statics: two ridges, each square to itself and to the circle that slides over it."""
    task = over_the_ridge(offset, friction)
    found = insert_quickly(task)
    assert (found.outcome, found.cause) == ("ok", "")
    assert found.peak_force == pytest.approx(_over_ridges(offset, friction), rel=0.08)


def _over_ridges(offset: float, friction: float) -> float:
    """Peak of the force down [N], while the rim's end of 9.67 mm slides from where it meets the ridges to
    where its chamfer of 45 deg takes over, and that one from there to the play.

    Both circle and cone press with equal parts down and towards the axis; friction lies along the way in the
    plane of x and z, square to which both ridges push outwards alike.
    """
    most, stiffness, end, play = 0.0, 20e3, 9.67e-3, 30e-6
    for x in np.linspace(min(offset, 0.6e-3), play, 200):
        radius = end + max(0.374e-3 - x, 0.0)  # of the rim where it touches the ridge
        towards = (9e-3 - x) / radius  # share of the sideways push that is along x
        normal = np.array([towards, 1.0]) / np.sqrt(2.0)  # along -x and up, of a push of size one
        way = np.array([normal[1], normal[0]]) / np.hypot(*normal)  # it goes along -x and down
        up, back = normal[1] + friction * way[1], normal[0] - friction * way[0]
        most = max(most, stiffness * (offset - x) * up / back)
    return most


def test_over_the_ridge_it_says_what_the_engine_says() -> None:
    quick, engine = (solve(over_the_ridge(0.5e-3)) for solve in (insert_quickly, insert_in_engine))
    assert quick.outcome == engine.outcome == "ok"
    assert quick.peak_force == pytest.approx(engine.peak_force, rel=0.1)
