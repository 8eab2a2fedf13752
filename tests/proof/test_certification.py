"""What certification says of a motion, against many samples of it and against collisions that samples
miss."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.proof.chart_by_hand import ByHand, Hand, first_fit, trapezoid
from tests.proof.dense import DenseCell, sampled

from handfast.model.cell import Obstacle
from handfast.model.chart import Chart
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.model.proof import Proof, Violation
from handfast.model.shape import Box, Solid, Sphere
from handfast.proof import verify
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

OPEN = 0.070
SAMPLES = 120


def with_obstacle(project: Project, name: str, solid: Solid) -> Project:
    obstacles = (*project.cell.obstacles, Obstacle(name, (solid,)))
    return replace(project, cell=replace(project.cell, obstacles=obstacles))


def one_motion(project: Project, arm: str, *stops: Array) -> Chart:
    """A chart of one element: from home through the stops."""
    b = ByHand(project)
    motions = tuple(m for q in stops for m in b.joints(arm, q))
    b.add(arm, "move", "", sum(m.duration for m in motions), motions=motions)
    return b.chart({"left": OPEN, "right": OPEN})


def collisions(proof: Proof) -> list[Violation]:
    """Of motions; mates are missing, for nothing is assembled here."""
    assert {v.kind for v in proof.violations} <= {"collision", "missing mate"}, proof.violations
    return [v for v in proof.violations if v.kind == "collision"]


def random_goal(rng: np.random.Generator, hand: Hand) -> Array:
    """Somewhere over the table, hand down, leaning a little."""
    for _ in range(50):
        where = np.array([rng.uniform(-0.15, 0.35), rng.uniform(0.30, 0.60), rng.uniform(0.03, 0.25)])
        lean = se3.exp(np.concatenate([np.zeros(3), rng.normal(0, 0.3, 3)]))
        goal = se3.translation(*where) @ se3.rotation(np.array([1.0, 0, 0]), np.pi) @ lean
        try:
            return hand.reach(goal, hand.q)
        except AssertionError:
            continue
    raise AssertionError("no goal found")


@pytest.mark.parametrize("seed", range(6))
def test_the_same_answer_as_dense_sampling(seed: int) -> None:
    project = first_fit()
    rng = np.random.default_rng(seed)
    hand = Hand(project, "right")
    goal = random_goal(rng, hand)
    plate = Solid(
        Box((0.12, 0.002, 0.12)),
        Pose.from_matrix(se3.translation(rng.uniform(0, 0.4), rng.uniform(0.25, 0.5), rng.uniform(0.1, 0.5))),
    )
    project = with_obstacle(project, "plate", plate)
    chart = one_motion(project, "right", goal)
    motion = chart.elements[0].motions[0]
    dense = DenseCell(project, "right", OPEN)
    gaps = [dense.smallest(q) for q in sampled(motion, np.linspace(0, motion.duration, SAMPLES))]
    smallest, a, b = min(gaps)
    proof = verify(project, chart, "sha")
    found = collisions(proof)
    if smallest <= 0:
        assert any({v.a, v.b} == {a, b} for v in found), (smallest, a, b, found)
    elif smallest > 1e-3:  # beyond what lies between two samples
        assert not found
        # No pair comes closer than 0.9 of what the proof states, less 0.05 mm; what it states is attained.
        assert smallest >= 0.9 * proof.smallest_clearance - 0.05e-3
        if any(name.startswith("right.") for name in proof.closest):
            between = 1.5 * motion.duration / SAMPLES  # no point of the arm is faster than 3 m/s here
            assert proof.smallest_clearance >= smallest - between


def test_the_seeds_above_hold_both_kinds() -> None:
    kinds = set()
    for seed in range(6):
        project, rng = first_fit(), np.random.default_rng(seed)
        goal = random_goal(rng, Hand(project, "right"))
        where = se3.translation(rng.uniform(0, 0.4), rng.uniform(0.25, 0.5), rng.uniform(0.1, 0.5))
        project = with_obstacle(project, "plate", Solid(Box((0.12, 0.002, 0.12)), Pose.from_matrix(where)))
        kinds.add(bool(collisions(verify(project, one_motion(project, "right", goal), "sha"))))
    assert kinds == {True, False}


@pytest.mark.parametrize("arm", ["left", "right"])
def test_a_thin_obstacle_between_two_samples_is_found(arm: str) -> None:
    project = first_fit()
    hand = Hand(project, arm)
    turned = hand.q + np.array([-0.8 if arm == "right" else 0.8, 0, 0, 0, 0, 0])
    motion = trapezoid(hand.q, turned, arm, hand.speed, hand.acceleration)
    period = 0.040
    times = np.arange(0, motion.duration, period)
    middle = float(times[len(times) // 2] + period / 2)
    # A ball of 0.5 mm where the finger's middle is half way between two samples.
    where = hand.grip(sampled(motion, np.array([middle]))[0]) @ np.array([0, (OPEN + 0.012) / 2, -0.035, 1.0])
    grain = Solid(Sphere(0.25e-3), Pose((float(where[0]), float(where[1]), float(where[2]))))
    project = with_obstacle(project, "grain", grain)
    dense = DenseCell(project, arm, OPEN)
    assert min(dense.smallest(q)[0] for q in sampled(motion, times)) > 0  # the samples see nothing
    proof = verify(project, one_motion(project, arm, turned), "sha")
    hits = collisions(proof)  # the other finger may pass the same point at another time
    assert all("grain" in (v.a, v.b) and "grain" in v.text for v in hits)
    (found,) = (v for v in hits if f"{arm}.upper_finger" in (v.a, v.b))
    assert found.time_s == pytest.approx(middle, abs=0.03)


def test_an_arm_that_folds_into_itself() -> None:
    project = _only_right(first_fit())
    hand = Hand(project, "right")
    for bend, wrist, hits in ((0.0, 0.0, False), (-2.5, -2.0, True)):
        folded = np.array([0.0, 0.0, bend, 0.0, wrist, 0.0])
        motion = trapezoid(hand.q, folded, "right", hand.speed, hand.acceleration)
        dense = DenseCell(project, "right", OPEN)
        gaps = [dense.smallest(q)[0] for q in sampled(motion, np.linspace(0, motion.duration, 60))]
        assert (min(gaps) < 0) == hits
        found = collisions(verify(project, one_motion(project, "right", folded), "sha"))
        assert bool(found) == hits
        assert all(v.a.startswith("right.") and v.b.startswith("right.") for v in found)


def test_a_gap_of_a_tenth_of_a_millimetre_is_told_from_a_collision() -> None:
    project = first_fit()
    hand = Hand(project, "right")
    turned = hand.q + np.array([-0.1, 0, 0, 0, 0, 0])
    x, y, _ = hand.grip(hand.q)[:3, 3]
    # Axis 1 stands upright, so the finger tips keep their height: a plate under their lowest corner.
    lowest = min(
        float((hand.grip(hand.q) @ np.array([x, s * (OPEN / 2 + y), z, 1.0]))[2])
        for x in (-0.009, 0.009) for s in (-1, 1) for y in (0, 0.012) for z in (0, -0.070)
    )  # fmt: skip
    for gap, hits in ((0.1e-3, False), (-0.1e-3, True), (0.01e-3, True)):
        plate = Solid(Box((0.3, 0.3, 0.002)), Pose((x, y, lowest - gap - 0.001)))
        other = with_obstacle(_only_right(project), "plate", plate)
        proof = verify(other, one_motion(other, "right", turned), "sha")
        assert any("plate" in (v.a, v.b) and v.kind == "collision" for v in proof.violations) == hits, gap
        if not hits:
            assert proof.smallest_clearance == pytest.approx(gap, abs=2e-6)
            assert "plate" in proof.closest


def _only_right(project: Project) -> Project:
    """One arm, nothing to assemble: nothing but the arm and what is put in its way."""
    cell = replace(
        project.cell,
        arms=(project.cell.arm("right"),),
        grippers=(project.cell.gripper_of("right"),),
        tools=(),
        holders=(),
        obstacles=(),
    )
    return replace(project, cell=cell, product=replace(project.product, parts=(), mates=()))


def test_jaws_that_open_into_something() -> None:
    project = first_fit()
    hand = Hand(project, "right")
    beside = hand.grip(hand.q) @ np.array([0, 0.030 + 0.012 + 0.002, -0.035, 1.0])
    project = with_obstacle(project, "post", Solid(Sphere(1e-3), Pose((beside[0], beside[1], beside[2]))))
    b = ByHand(project)
    b.add("right", "reach", "", 1.0, opening=0.060)
    proof = verify(project, b.chart({"left": OPEN, "right": 0.050}), "sha")
    assert not collisions(proof)
    b = ByHand(project)
    b.add("right", "reach", "", 1.0, opening=0.070)
    (found,) = collisions(verify(project, b.chart({"left": OPEN, "right": 0.050}), "sha"))
    assert {found.a, found.b} == {"right.upper_finger", "post"}


def test_a_grain_that_a_finger_passes_while_the_jaws_open() -> None:
    project = first_fit()
    hand = Hand(project, "right")
    # The finger is 12 thick: it lies over y = 5..17 at the start, 20..32 half way, 35..47 mm at the end.
    where = hand.grip(hand.q) @ np.array([0, 0.0185, -0.035, 1.0])
    grain = Solid(Sphere(0.25e-3), Pose((float(where[0]), float(where[1]), float(where[2]))))
    project = with_obstacle(project, "grain", grain)
    b = ByHand(project)
    b.add("right", "reach", "", 1.0, opening=0.070)
    (found,) = collisions(verify(project, b.chart({"left": OPEN, "right": 0.010}), "sha"))
    assert {found.a, found.b} == {"right.upper_finger", "grain"}


def _crossing(project: Project, wait: float) -> Chart:
    """Left and right each reach over the nest and go back; right starts `wait` seconds after left."""
    elements = []
    b = ByHand(project)
    for arm, x in (("left", 0.06), ("right", -0.06)):
        hand = b.hands[arm]
        goal = se3.translation(x, 0.42, 0.25) @ se3.rotation(np.array([1.0, 0, 0]), np.pi)
        there = trapezoid(hand.q, hand.reach(goal, hand.q), arm, hand.speed, hand.acceleration)
        back = Motion(
            arm, "free", there.t, there.q[::-1], tuple(tuple(-x for x in row) for row in there.v[::-1])
        )
        b.now = 0.0 if arm == "left" else wait
        elements.append(b.add(arm, "move", "", 2 * there.duration, motions=(there, back)))
    b.now = max(e.start_s + e.duration_s for e in elements)
    return b.chart({"left": OPEN, "right": OPEN})


def test_two_arms_that_move_at_the_same_time() -> None:
    project = first_fit()
    long = _crossing(project, 0.0).elements[0].duration_s
    assert not collisions(verify(project, _crossing(project, long), "sha"))  # one after the other
    found = collisions(verify(project, _crossing(project, 0.0), "sha"))
    assert any({v.a.split(".")[0], v.b.split(".")[0]} == {"left", "right"} for v in found)
