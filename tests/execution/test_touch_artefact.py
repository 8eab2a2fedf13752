"""Both arms at a ball that a person sets down: what is asked, what is written, and what stops it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import coal
import numpy as np
import pytest
from tests.learning import touched_balls as balls

from handfast.execution.anew import NoWayAnewError, Stands
from handfast.execution.ball_round import BallRound
from handfast.execution.cell import CellError, GuardedResult
from handfast.execution.journal import Journal
from handfast.execution.person import Step
from handfast.execution.touch_artefact import Asked, touch_artefact
from handfast.kinematics.forward import forward
from handfast.model.artefact import Stand
from handfast.model.run_log import RunLog
from handfast.model.standing_artefact import with_artefact
from handfast.proof.moved_motion import surroundings
from handfast.spatial.pose import Pose, Vec3
from handfast.trials.draw import Draws
from handfast.trials.simulated_cell import SimulatedCell
from handfast.trials.true_artefact import Ball, fingers_meet
from handfast.workflow import planned_rounds


@dataclass
class Somebody:
    """Answers so often, then wants to stop."""

    patience: int = 99
    steps: list[Step] = field(default_factory=list)

    def done(self, step: Step) -> bool:
        self.steps.append(step)
        return len(self.steps) <= self.patience


def run(cell: SimulatedCell, person: Somebody, stands: int = 2) -> RunLog:
    asked = Asked(balls.BALL, balls.BALL.stands[:stands], 2)
    return touch_artefact(
        balls.project(), cell, balls.chains(), balls.PLANNER, person, Journal(cell, "cell"), asked
    )


def test_a_person_is_told_what_to_do_where_and_to_leave() -> None:
    somebody = Somebody()
    log = run(balls.cell_of(balls.project(), 1), somebody)
    assert log.ended == "done"
    assert [s.title for s in somebody.steps] == ["ball at stand_0 (1 of 2)", "ball at stand_1 (2 of 2)"]
    enter, what, _, leave = somebody.steps[1].todo
    assert "ISO 10218" in enter
    assert "x 0 mm, y 600 mm, z 120 mm, within 2.0 mm" in what
    assert leave.startswith("Leave the guarded space")
    touches = [ln for ln in log.lines if ln.event == "ball"]
    assert len(touches) == 2 * 2 * 7 * 2
    assert {ln.text.split("/")[3].partition(" ")[0] for ln in touches} == {"down", "turned", "tilted"}
    for name, arm in ((a.name, a) for a in balls.project().cell.arms):  # all end where they began
        stands = [ln for ln in log.lines if ln.event == "done" and ln.text == name][-1]
        assert [stands.value(f"q{i}") for i in range(1, 7)] == pytest.approx(arm.home, abs=1e-9)


def test_nothing_moves_before_the_person_says_so_and_a_stop_keeps_what_was_measured() -> None:
    cell = balls.cell_of(balls.project(), 1)
    log = run(cell, Somebody(patience=0))
    assert log.ended == "stopped"
    assert cell.clock() == 0.0
    assert "go on with --stands stand_0,stand_1" in log.reason
    cell = balls.cell_of(balls.project(), 1)
    log = run(cell, Somebody(patience=1))
    assert log.reason.startswith("stopped by the person")
    assert "--stands stand_1 " in log.reason
    assert len([ln for ln in log.lines if ln.event == "ball"]) == 2 * 7 * 2


def test_a_ball_that_is_not_there_stops_with_what_to_do() -> None:
    class Forgot(SimulatedCell):
        def placed(self, item: str, region: str) -> None:
            super().placed(item, region)
            if self._at_ball.ball is not None:
                ball = self._at_ball.ball
                self._at_ball.ball = replace(ball, middle=ball.middle - [0, 0, 0.05])

    cell = Forgot(balls.project(), balls.chains(), Draws(balls.project().errors, 1, 0), ())
    log = run(cell, Somebody())
    assert (log.ended, log.cause) == ("stopped", "no contact")
    assert "set it down closer to its stand" in log.reason


def test_jaws_that_hold_something_stop_it_before_an_arm_moves() -> None:
    class Jammed(SimulatedCell):
        def grip(self, arm: str, width: float, force: float) -> float:
            return super().grip(arm, width, force) + 0.006

        def guarded_move(
            self, arm: str, direction: Vec3, travel: float, overtravel: float, force: float, speed: float
        ) -> GuardedResult:
            raise AssertionError("it has moved")

    cell = Jammed(balls.project(), balls.chains(), Draws(balls.project().errors, 1, 0), ())
    log = run(cell, Somebody())
    assert log.cause == "wrong width"
    assert "something is between them" in log.reason


def test_arms_that_are_not_home_stop_it() -> None:
    cell = balls.cell_of(balls.project(), 1)
    cell.truth.stand("right", np.array(balls.project().cell.arm("right").home) + 0.1)
    log = run(cell, Somebody())
    assert "lead both arms home" in log.reason
    assert cell.clock() == 0.0


def test_a_way_through_the_ball_is_not_given(monkeypatch: pytest.MonkeyPatch) -> None:
    """The verifier sees the ball where it may stand: a way that was planned without it is refused."""
    planner = planned_rounds.PlannedRounds(balls.project())
    q: Stands = {a.name: a.home for a in balls.project().cell.arms}
    good = planner.touches("ball", "stand_0", "left", q)
    through = replace(good.touches[0], away=good.touches[0].guarded)
    monkeypatch.setattr(planned_rounds, "ball_round", lambda *_: BallRound((through,), good.home))
    with pytest.raises(NoWayAnewError, match=r"would meet ball|ball would meet"):
        planner.touches("ball", "stand_0", "left", q)


def test_a_stand_out_of_reach_says_so() -> None:
    far = replace(balls.BALL, stands=(Stand("far", Pose((0.0, 1.6, 0.0))),))
    project = replace(balls.project(), cell=replace(balls.project().cell, artefacts=(far,)))
    planner = planned_rounds.PlannedRounds(project)
    with pytest.raises(NoWayAnewError, match="reaches the ball nowhere: down end: out of reach"):
        planner.touches("ball", "far", "left", {a.name: a.home for a in project.cell.arms})


def test_the_cell_knows_no_other_artefact_or_stand() -> None:
    cell = balls.cell_of(balls.project(), 1)
    with pytest.raises(CellError, match="there are: ball"):
        cell.placed("cube", "stand.cube.front")
    with pytest.raises(CellError, match=r"there are: stand\.ball\.stand_0"):
        cell.placed("ball", "stand.ball.nowhere")


def test_fingers_meet_the_ball_where_a_collision_library_has_them_touch() -> None:
    """coal's distance of the boxes and the ball is 0 at the travel found, and was not before it."""
    cell, rng = balls.cell_of(balls.project(), 1), np.random.default_rng(5)
    cell.truth.hands["right"].width = 0.0
    gripper = balls.project().cell.gripper_of("right")
    x, y, z = gripper.finger_size
    home = np.array(balls.project().cell.arm("right").home)
    T = forward(balls.chains()["right"], home)[0] @ gripper.mount.matrix
    met = 0
    for _ in range(60):
        way = rng.normal(size=3)
        way /= np.linalg.norm(way)
        ball = Ball(T[:3, 3] + 0.05 * way + 0.01 * rng.normal(size=3), 0.0125)
        found = fingers_meet(cell.truth, "right", T, way, ball)

        def gap(travel: float, way: np.ndarray = way, ball: Ball = ball) -> float:
            ends = []
            for side in (1, -1):
                box = coal.CollisionObject(coal.Box(x, y, z))
                at = T[:3, :3] @ np.array([0.0, side * y / 2, -z / 2]) + T[:3, 3] + travel * way
                box.setTransform(coal.Transform3s(T[:3, :3], at))
                round_ = coal.CollisionObject(coal.Sphere(ball.radius))
                round_.setTranslation(ball.middle)
                result = coal.DistanceResult()
                ends.append(coal.distance(box, round_, coal.DistanceRequest(), result))
            return float(min(ends))

        if found is None:
            assert min(gap(t) for t in np.linspace(0, 0.2, 200)) > -1e-4
        elif found > 1e-6:
            met += 1
            assert gap(found) == pytest.approx(0.0, abs=1e-6)
            assert gap(found - 1e-4) > 0
    assert met > 30


def test_the_ball_stands_in_the_way_as_far_off_as_it_may() -> None:
    standing = with_artefact(balls.project(), balls.BALL, balls.BALL.stands[0])
    body = surroundings(standing).cell.named("ball")
    assert len(body.pieces) == 2
    ball = standing.cell.obstacles[-1].solids[0].shape
    assert ball.radius == pytest.approx(0.0145)  # type: ignore[union-attr]
