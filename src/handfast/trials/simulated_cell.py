"""A cell that exists only here: commands go in as to a real one, true poses and contact decide what
happens."""

from __future__ import annotations

import numpy as np

from handfast.execution.cell import (
    ArmState,
    CellError,
    DriveResult,
    GuardedResult,
    InsertResult,
    ObstructedError,
    Until,
)
from handfast.kinematics.chain import Chain
from handfast.model.grasp import Grasp
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.model.strategy import Strategy
from handfast.model.trial import MateTry
from handfast.spatial import se3
from handfast.spatial.pose import Pose, Vec3
from handfast.spatial.se3 import Array
from handfast.trials.at_ball import AtBall
from handfast.trials.bringing_home import BringingHome, Solver
from handfast.trials.coming_to_lie import come_to_lie
from handfast.trials.draw import Draws, stream
from handfast.trials.driving import Driving
from handfast.trials.giving import Pull
from handfast.trials.insertion import Inserted, Insertion
from handfast.trials.quick_contact import insert_quickly
from handfast.trials.tries import never_begun
from handfast.trials.true_cell import TrueCell
from handfast.trials.true_grasp import close_jaws, lift, nearest, slide, stands_on
from handfast.trials.true_jaws import Between, holds_at_most
from handfast.trials.true_screw import take_up
from handfast.trials.true_touch import first_meeting, foremost

_APART = 1e-4  # a motion has to start where the arm stands [rad]


class SimulatedCell:
    """Implements `execution.cell.Cell`.

    grasps: how the jaws of this cell can hold its parts and tools. solver: of contact. tries: what became of
    each mate, and solved: the insertions as contact met them, each with its answer; known only here.
    """

    name = "simulated"

    def __init__(
        self,
        project: Project,
        chains: dict[str, Chain],
        draws: Draws,
        grasps: tuple[Grasp, ...],
        solver: Solver = insert_quickly,
    ) -> None:
        self.truth = TrueCell(project, chains, draws)
        self.tries: list[MateTry] = []
        self.solved: list[tuple[str, Insertion, Inserted]] = []
        self._project, self._grasps, self._time = project, grasps, 0.0
        self._zeroed: dict[str, float] = {}
        self._closed: dict[str, int] = {}  # how often the jaws of each hand have closed
        self._home = BringingHome(self.truth, solver, self.tries, self.solved)
        self._driving = Driving(self.truth, self.tries)
        self._reads = self._looks = 0
        self._at_ball = AtBall(self.truth)

    def locate(self, part: str, region: str) -> Pose | None:
        """What the first camera makes of where the part is."""
        if part not in self.truth.items or not self._project.cell.cameras:
            return None
        camera = self._project.cell.cameras[0]
        self._looks += 1
        draws, occasion = self.truth.draws, f"{part}/{region}/{self._looks}"
        if draws.acts(f"camera.{camera.name}"):
            seen = draws.deviation(f"camera.{camera.name}", occasion)
        else:  # nobody said more than the camera's own data
            unit = stream(draws.seed, "camera", camera.name, draws.build, occasion).standard_normal(6)
            seen = se3.exp(draws.scale * np.array(camera.sigma) * unit)
        return Pose.from_matrix(self.truth.T_world(part) @ seen)

    def move(self, arm: str, motion: Motion) -> None:
        """Go along a timed path; what the jaws hold too weakly stays behind."""
        self._stands_at(arm, motion)
        lift(self.truth, arm)
        self.truth.stand(arm, np.array(motion.q[-1]))
        self._time += motion.duration
        if self.truth.hands[arm].holds is None and motion.path == "line":
            self._comes_upon(arm)

    def grip(self, arm: str, width: float, force: float) -> float:
        """Close on what lies between the jaws."""
        self._time += self._project.cell.gripper_of(arm).close_time
        hand, found = self.truth.hands[arm], self._comes_upon(arm)
        width = close_jaws(self.truth, arm, found, force)
        self._closed[arm] = self._closed.get(arm, 0) + 1
        if hand.slips:
            self._not_begun(str(hand.holds), hand.slips)
        elif found is not None and hand.holds is None:
            self._not_begun(found.grasp.item, f"the jaws missed {found.grasp.item}")
        if hand.holds is None:
            self._at_ball.closed_on_nothing(arm)
        return width + self._width_noise(arm)

    def _comes_upon(self, arm: str) -> Between | None:
        """What the open jaws stand around. Raises ObstructedError where a finger comes down on it."""
        found = nearest(self.truth, arm, self._grasps)
        if found is not None:
            try:
                stands_on(found, arm)
            except ObstructedError as error:
                self._not_begun(found.grasp.item, str(error))
                raise
        return found

    def _not_begun(self, item: str, cause: str) -> None:
        """The mate of a part that has not come as far as that."""
        for mate in self._project.product.mates:
            if mate.part == item and not self.truth.items[item].parent.startswith("part."):
                never_begun(self.tries, mate.name, cause)

    def release(self, arm: str, width: float) -> None:
        """Open; what was held stays where it is joined or lies, or drops."""
        self._time += self._project.cell.gripper_of(arm).close_time
        held = self.truth.hands[arm].holds
        self.truth.let_go(arm)
        self.truth.hands[arm].width = width
        if held is not None:
            come_to_lie(self.truth, held)

    def guarded_move(
        self, arm: str, direction: Vec3, travel: float, overtravel: float, force: float, speed: float
    ) -> GuardedResult:
        """Until the held part really meets a face; the reading carries the noise of the touch. With empty
        jaws, or a tool, until the ball of an artefact is met."""
        hand = self.truth.hands[arm]
        if self._at_ball.meant_by(arm):
            result = self._at_ball.guarded(arm, np.array(direction), travel + overtravel)
            self._time += 2 * max(result.travel, 0.0) / speed
            return result
        if hand.holds is None:
            raise CellError(f"the {arm} hand holds nothing to touch with; put a part in it")
        true_direction = self.truth.T_base(arm)[:3, :3] @ np.array(direction)
        # The arm stops anew where it touches: what changes with each cycle is drawn for that stop.
        T_world_grip = self.truth.T_world_grip(arm, stop=f"{hand.stop}/touch")
        T_world_held = self.truth.T_world(hand.holds, T_world_grip=T_world_grip)
        meeting = first_meeting(self.truth, hand.holds, T_world_held, true_direction)
        back = self._pressed_back(arm, T_world_held, true_direction, force)
        noise = back + float(se3.log(self.truth.draws.deviation(f"touch.{arm}", hand.stop))[0])
        held = force <= holds_at_most(self.truth, arm)
        met = meeting is not None and held and meeting.travel <= travel + overtravel
        gone = meeting.travel + noise if meeting is not None and met else travel + overtravel
        self._time += 2 * max(gone, 0.0) / speed
        if meeting is not None and not held:  # the part slides in the jaws, and the force never comes
            slide(self.truth, arm, -max(gone - meeting.travel, 0.0) * true_direction)
        return GuardedResult(met, gone)

    def _pressed_back(self, arm: str, T_world_held: Array, direction: Array, force: float) -> float:
        """How much further the arm goes until the force is there, for what gives [m]: at the foremost corner
        of what it carries."""
        hand, gripper = self.truth.hands[arm], self._project.cell.gripper_of(arm)
        if not any(map(self.truth.draws.acts, (f"arm.{arm}.flange", f"gripper.{gripper.name}.fingers"))):
            return 0.0
        point = foremost(self.truth, str(hand.holds), T_world_held, direction)
        stop = f"{hand.stop}/touch"
        free = self.truth.T_world_grip(arm, stop=stop)
        pressed = self.truth.T_world_grip(arm, stop=stop, push=Pull(-force * direction, point))
        moved = (pressed @ se3.inverse(free) @ np.append(point, 1.0))[:3] - point
        return -float(moved @ direction)

    def insert(
        self, arm: str, motion: Motion, force_limit: float, strategy: Strategy | None = None
    ) -> InsertResult:
        """In contact, with this build's sizes and errors; what bends is placed, not tried."""
        self._stands_at(arm, motion)
        self._time += motion.duration
        return self._home.insert(arm, motion, force_limit, strategy)

    def drive(
        self,
        arm: str,
        motion: Motion,
        torque: float,
        turns: float,
        strategy: Strategy | None = None,
        until: Until = "torque",
    ) -> DriveResult:
        """Turn the screw on the bit, or the one in its thread under it."""
        _known(strategy)
        self._stands_at(arm, motion)
        tool, mate, spindle = self._driving.screw_in(arm)
        self.truth.stand(arm, np.array(motion.q[-1]))
        self._time += max(motion.duration, self._driving.angle(mate, turns, until) / spindle.speed)
        return self._driving.drive(arm, tool, mate, torque, turns, strategy, until)

    def turn(self, arm: str, angle: float) -> None:
        """The spindle turns by itself, and what the bit is off by with it."""
        self._time += abs(angle) / self._at_ball.turned(arm, angle).slow_speed

    def placed(self, item: str, region: str) -> None:
        """An artefact stands there now, as far off as a person sets it down; or is taken away."""
        self._at_ball.placed(item, region)

    def zero_force(self, arm: str) -> None:
        """What the sensor has drifted by is forgotten."""
        self._zeroed[arm] = self._time

    def force(self, arm: str) -> Vec3:
        """At rest: drift along z since it was zeroed, and noise."""
        sensor = next((s for s in self._project.cell.force_sensors if s.arm == arm), None)
        if sensor is None:
            return (0.0, 0.0, 0.0)
        self._reads += 1
        draws = self.truth.draws
        noise = sensor.noise * stream(draws.seed, "force", arm, draws.build, self._reads).standard_normal(3)
        drifted = sensor.drift / 60 * (self._time - self._zeroed.get(arm, 0.0))
        return float(noise[0]), float(noise[1]), float(noise[2]) + drifted

    def set_payload(self, arm: str, mass: float) -> None:
        """Nothing to do: the simulated arm does not sag."""

    def digital_out(self, name: str, value: bool) -> None:
        """TOOL.retain: take up the screw under the bit."""
        tool = self._tool_of(name, "retain")
        if value:
            take_up(self.truth, tool)

    def digital_in(self, name: str) -> bool:
        """TOOL.retained: a screw is on the bit."""
        tool = self._tool_of(name, "retained")
        return any(i.parent == f"tool.{tool}" for i in self.truth.items.values())

    def state(self, arm: str) -> ArmState:
        """Where the arm stands."""
        hand = self.truth.hands[arm]
        return ArmState(tuple(hand.q.tolist()), hand.width + self._width_noise(arm))

    def _width_noise(self, arm: str) -> float:
        """Of what the gripper says of its width while it holds something [m]: one draw for each closing and
        stop."""
        hand, sigma = self.truth.hands[arm], self._project.cell.gripper_of(arm).width_noise
        if hand.holds is None or sigma == 0:
            return 0.0
        draws, closed = self.truth.draws, str(self._closed.get(arm, 0))
        rng = stream(draws.seed, "width", arm, draws.build, hand.stop, closed)
        return sigma * float(rng.standard_normal())

    def clock(self) -> float:
        """Simulated time [s]."""
        return self._time

    def pause(self, seconds: float) -> None:
        """Wait."""
        self._time += seconds

    def _stands_at(self, arm: str, motion: Motion) -> None:
        apart = float(np.max(np.abs(self.truth.hands[arm].q - np.array(motion.q[0]))))
        if motion.arm != arm or apart > _APART:
            raise CellError(
                f"a motion of arm {motion.arm!r} starts {np.degrees(apart):.3g} deg from where the {arm} arm "
                "stands; bring the arm to the start of the element"
            )

    def _tool_of(self, signal: str, what: str) -> str:
        tool, _, name = signal.rpartition(".")
        known = [t.name for t in self._project.cell.tools]
        if name != what or tool not in known:
            raise CellError(
                f"no signal {signal!r}; there are: {', '.join(f'{t}.{what}' for t in known) or 'none'}"
            )
        return tool


def _known(strategy: Strategy | None) -> None:
    """Raises CellError for a way of starting a screw that is not simulated."""
    if strategy is not None:
        raise CellError(f"the simulated cell cannot go in by {strategy.name!r} yet; plan without strategies")
