"""A cell that exists only here: commands go in as to a real one, true poses and contact decide what
happens."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from handfast.execution.cell import ArmState, CellError, DriveResult, Felt, GuardedResult, InsertResult, Until
from handfast.kinematics.chain import Chain
from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.model.strategy import BackTurn, Strategy
from handfast.model.trial import MateTry, Outcome
from handfast.spatial import se3
from handfast.spatial.pose import Pose, Vec3
from handfast.spatial.se3 import Array
from handfast.standards.threads import coarse_thread
from handfast.trials.draw import Draws, stream
from handfast.trials.giving import Pull
from handfast.trials.insertion import Inserted, Insertion
from handfast.trials.quick_contact import insert_quickly
from handfast.trials.strategies import insert_by
from handfast.trials.true_cell import TrueCell
from handfast.trials.true_grasp import close_jaws
from handfast.trials.true_insertion import HandWay
from handfast.trials.true_screw import driven, expected_angle, screw_start, take_up, under_bit
from handfast.trials.true_task import burred, tight, true_task
from handfast.trials.true_tightening import tightened
from handfast.trials.true_touch import first_meeting, foremost

BENDS = ("ring", "belt")
NOT_SHOWN = "bends or stretches: placed, not tried, counts as not shown"
Solver = Callable[[Insertion], Inserted]
TOLD = 40  # forces felt during one insertion
_TURNS_ON = 2 * np.pi * 1.05  # of a stripped screw beyond its turns, when it is given up [rad]
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
        self._project, self._grasps, self._solver, self._time = project, grasps, solver, 0.0
        self._zeroed: dict[str, float] = {}
        self._turned: dict[str, float] = {}  # of each screw, since its point met the thread [rad]
        self._reads = self._looks = 0

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
        """Go along a timed path."""
        self._stands_at(arm, motion)
        self.truth.stand(arm, np.array(motion.q[-1]))
        self._time += motion.duration

    def grip(self, arm: str, width: float, force: float) -> float:
        """Close on what lies between the jaws."""
        self._time += self._project.cell.gripper_of(arm).close_time
        return close_jaws(self.truth, arm, self._grasps)

    def release(self, arm: str, width: float) -> None:
        """Open; what was held stays where it is joined or lies, or drops."""
        self._time += self._project.cell.gripper_of(arm).close_time
        self.truth.let_go(arm)
        self.truth.hands[arm].width = width

    def guarded_move(
        self, arm: str, direction: Vec3, travel: float, overtravel: float, force: float, speed: float
    ) -> GuardedResult:
        """Until the held part really meets a face; the reading carries the noise of the touch."""
        hand = self.truth.hands[arm]
        if hand.holds is None:
            raise CellError(f"the {arm} hand holds nothing to touch with; put a part in it")
        true_direction = self.truth.T_base(arm)[:3, :3] @ np.array(direction)
        # The arm stops anew where it touches: what changes with each cycle is drawn for that stop.
        T_world_grip = self.truth.T_world_grip(arm, stop=f"{hand.stop}/touch")
        T_world_held = self.truth.T_world(hand.holds, T_world_grip=T_world_grip)
        meeting = first_meeting(self.truth, hand.holds, T_world_held, true_direction)
        back = self._pressed_back(arm, T_world_held, true_direction, force)
        noise = back + float(se3.log(self.truth.draws.deviation(f"touch.{arm}", hand.stop))[0])
        met = meeting is not None and meeting.travel <= travel + overtravel
        gone = meeting.travel + noise if meeting is not None and met else travel + overtravel
        self._time += 2 * max(gone, 0.0) / speed
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
        mate = self._mate_of(arm)
        first = np.array(motion.q[0])
        self.truth.stand(arm, np.array(motion.q[-1]))
        self._time += motion.duration
        way = HandWay(self.truth.T_world_grip(arm, first), self.truth.T_world_grip(arm))
        travel = float(np.linalg.norm(way.T_world_grip_home[:3, 3] - way.T_world_grip_start[:3, 3]))
        if mate.kind in BENDS:
            return self._placed(mate, way, travel)
        task = true_task(self.truth, mate, way, force_limit)
        cause = burred(self.truth, mate) or tight(task)
        if cause:
            self.tries.append(MateTry(mate.name, "failed", cause, 0.0, 0.0, 0.0, 0.0))
            return InsertResult(False, cause, 0.0, 0.0)
        result = insert_by(strategy, task, partial(self._solve, mate.name))
        self._note(mate, result)
        self._settle(mate, task, result)
        if result.outcome != "ok":
            self.truth.hands[arm].stop += "/stopped"
        felt = _felt(result, motion.duration / max(travel, 1e-9))
        return InsertResult(result.outcome == "ok", result.cause, result.travel, result.peak_force, felt)

    def drive(
        self,
        arm: str,
        motion: Motion,
        torque: float,
        turns: float,
        strategy: Strategy | None = None,
        until: Until = "torque",
    ) -> DriveResult:
        """Turn the screw on the bit, or the one in its thread under it; a rule of geometry says whether it
        starts (true_screw). The torque rises where the head comes to rest, nowhere before."""
        _known(strategy)
        self._stands_at(arm, motion)
        tool, mate = self._screw_on(arm)
        self.truth.stand(arm, np.array(motion.q[-1]))
        spindle = self._project.cell.tool(tool).spindle
        thread = coarse_thread(
            self._project.product.part(mate.part).feature(mate.pairs[0].moving).thread or ""
        )
        turned = self._turned.get(mate.name, 0.0)
        left = max(0.0, expected_angle(mate, thread) - turned)
        angle = min(left, turns) if until == "turns" else left
        self._time += max(motion.duration, angle / spindle.speed)
        cause = self._start(arm, tool, mate, strategy) if turned == 0.0 else self._engage(tool, mate)
        if not cause and torque > spindle.torque:
            cause = f"the driver gives {spindle.torque:.2g} N m at most"
        if cause:
            self._failed(mate, cause)
            return DriveResult(False, cause, min(torque, spindle.torque), 0.0)
        if until == "torque" and angle == left:
            ended = tightened(self.truth, mate, torque)
            if ended.ends == "stripped":  # it turns on, and no torque comes
                self._failed(mate, "the thread has stripped")
                return DriveResult(True, "", 0.0, angle + _TURNS_ON)
            if ended.ends == "bottomed":
                self._failed(mate, f"the screw met the end of its hole {ended.gap * 1e3:.2f} mm early")
                angle = max(0.0, angle - ended.gap / thread.pitch * 2 * np.pi)
                self._turned[mate.name] = turned + angle
                driven(self.truth, mate, ended.gap)
                return DriveResult(True, "", torque, angle)
        self._turned[mate.name] = turned + angle
        driven(self.truth, mate, (left - angle) / (2 * np.pi) * thread.pitch)
        return DriveResult(True, "", torque if angle == left else 0.0, angle)

    def _start(self, arm: str, tool: str, mate: Mate, strategy: Strategy | None) -> str:
        """Why the screw on the bit does not start, "" if it does."""
        if self.truth.items[mate.part].parent != f"tool.{tool}":
            return "the screw is no longer on the bit"
        push = None
        if isinstance(strategy, BackTurn):
            T_world_bit = self.truth.T_world_bit(tool)
            push = Pull(-strategy.force * T_world_bit[:3, 2], T_world_bit[:3, 3])
        start = screw_start(self.truth, mate, self.truth.T_world_grip(arm, push=push))
        outcome: Outcome = "failed" if start.cause else "ok"
        self.tries.append(MateTry(mate.name, outcome, start.cause, start.offset, start.tilt, 0.0, 0.0))
        return start.cause

    def _engage(self, tool: str, mate: Mate) -> str:
        return "" if under_bit(self.truth, tool) is mate else f"the bit missed the socket of {mate.part}"

    def _failed(self, mate: Mate, cause: str) -> None:
        """What was tried of this mate has not come to its end."""
        blank = MateTry(mate.name, "failed", cause, 0.0, 0.0, 0.0, 0.0)
        last = next((t for t in self.tries if t.mate == mate.name), blank)
        self.tries = [t for t in self.tries if t.mate != mate.name]
        self.tries.append(replace(last, outcome="failed", cause=cause))

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
        return ArmState(tuple(hand.q.tolist()), hand.width)

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

    def _mate_of(self, arm: str) -> Mate:
        holds = self.truth.hands[arm].holds
        for mate in self._project.product.mates:
            if mate.part == holds and not self.truth.items[mate.part].parent.startswith("part."):
                return mate
        raise CellError(
            f"the {arm} hand holds {holds or 'nothing'}, which goes into nothing; put the right part in it"
        )

    def _screw_on(self, arm: str) -> tuple[str, Mate]:
        tool = self.truth.hands[arm].holds
        if tool is None or tool not in [t.name for t in self._project.cell.tools]:
            raise CellError(f"the {arm} hand holds no tool; take up the driver first")
        for mate in self._project.product.mates:
            if mate.kind == "screw" and self.truth.items[mate.part].parent == f"tool.{tool}":
                return tool, mate
        found = under_bit(self.truth, tool)
        if found is None:
            raise CellError(
                f"no screw is on the bit in the {arm} hand, nor is one's socket under it; take one up first"
            )
        return tool, found

    def _tool_of(self, signal: str, what: str) -> str:
        tool, _, name = signal.rpartition(".")
        known = [t.name for t in self._project.cell.tools]
        if name != what or tool not in known:
            raise CellError(
                f"no signal {signal!r}; there are: {', '.join(f'{t}.{what}' for t in known) or 'none'}"
            )
        return tool

    def _placed(self, mate: Mate, way: HandWay, travel: float) -> InsertResult:
        """A ring or a belt: it goes where the hand puts it, and nothing is said about whether it fits."""
        T_world_part = self.truth.T_world(mate.part, T_world_grip=way.T_world_grip_home)
        self.truth.attach(
            mate.part, f"part.{mate.into}", se3.inverse(self.truth.T_world(mate.into)) @ T_world_part
        )
        self.tries.append(MateTry(mate.name, "not tried", NOT_SHOWN, 0.0, 0.0, 0.0, 0.0))
        return InsertResult(True, "", travel, 0.0)

    def _solve(self, mate: str, task: Insertion) -> Inserted:
        result = self._solver(task)
        # Of a way in with several tries the last one, which decides.
        self.solved = [s for s in self.solved if s[0] != mate] + [(mate, task, result)]
        return result

    def _note(self, mate: Mate, result: Inserted) -> None:
        outcome = result.outcome if result.valid else "invalid"
        cause = result.cause if result.valid else f"contact too soft: {result.penetration:.2f} of the play"
        self.tries.append(MateTry(mate.name, outcome, cause, result.offset, result.tilt, result.peak_force,
                                  result.penetration, result.steps, result.unsettled))  # fmt: skip

    def _settle(self, mate: Mate, task: Insertion, result: Inserted) -> None:
        """Loose parts stay where they were pushed to; the part, if it is in, joins the part it goes into."""
        pair, truth = mate.pairs[0], self.truth
        T_world_fixed = truth.T_world_feature(pair.fixed_part, pair.fixed)
        for loose, T_now in zip(task.loose, result.T_loose, strict=True):
            moved = T_world_fixed @ T_now @ se3.inverse(loose.T_world_body) @ se3.inverse(T_world_fixed)
            there = truth.items[loose.part].parent
            parent = truth.T_world(there.partition(".")[2])
            truth.attach(loose.part, there, se3.inverse(parent) @ moved @ truth.T_world(loose.part))
        if result.outcome != "ok":
            return
        feature = self._project.product.part(mate.part).feature(pair.moving)
        T_world_part = T_world_fixed @ result.T_held @ se3.inverse(truth.T_part_feature(mate.part, feature))
        truth.attach(mate.part, f"part.{mate.into}", se3.inverse(truth.T_world(mate.into)) @ T_world_part)


def _felt(result: Inserted, per_metre: float) -> tuple[Felt, ...]:
    """At most TOLD of what was felt, each the hardest of its stretch. per_metre: time of travel [s/m]."""
    felt = np.asarray(result.felt)
    parts = np.array_split(felt, min(TOLD, len(felt))) if len(felt) else []
    rows = [part[int(np.argmax(np.abs(part[:, 1])))] for part in parts]
    return tuple(Felt(float(r[0]) * per_metre, *(float(v) for v in r[1:])) for r in rows)


def _known(strategy: Strategy | None) -> None:
    """Raises CellError for a way of starting a screw that is not simulated."""
    if strategy is not None:
        raise CellError(f"the simulated cell cannot go in by {strategy.name!r} yet; plan without strategies")
