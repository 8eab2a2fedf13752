"""A cell that does what a test tells it to and remembers what it was asked."""

from __future__ import annotations

from dataclasses import dataclass, field

from handfast.execution.cell import ArmState, DriveResult, GuardedResult, InsertResult, Until
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.model.strategy import Strategy
from handfast.spatial.pose import Pose, Vec3

TOUCHED = GuardedResult(True, 0.004)
INSERTED = InsertResult(True, "", 0.021, 5.0)
DRIVEN = DriveResult(True, "", 1.8, 50.0)


@dataclass
class ScriptedCell:
    """width: what jaws measure; touch, insertion, screw: what comes of them; widths, touches, insertions: the
    first of them, one after another; seen: by the camera, None where everything lies as drawn; blind: it sees
    nothing.

    calls: (method, arm or signal, arguments).
    """

    project: Project
    width: float = 0.008
    touch: GuardedResult = TOUCHED
    insertion: InsertResult = INSERTED
    screw: DriveResult = DRIVEN
    retained: bool = True
    seen: Pose | None = None
    blind: bool = False
    widths: list[float] = field(default_factory=list)
    touches: list[GuardedResult] = field(default_factory=list)
    insertions: list[InsertResult] = field(default_factory=list)
    calls: list[tuple[object, ...]] = field(default_factory=list)
    name: str = "scripted"

    def __post_init__(self) -> None:
        self.q = {a.name: a.home for a in self.project.cell.arms}
        self.stands = {a.name: self.width for a in self.project.cell.arms}
        self.time = 0.0

    def locate(self, part: str, region: str) -> Pose | None:
        self.calls.append(("locate", part, region))
        if not region.startswith("place."):  # of what is built in, it tells nothing
            return None
        if self.blind or self.seen is not None:
            return None if self.blind else self.seen
        holder, place = self.project.cell.place_of(part)
        return Pose.from_matrix(holder.pose.matrix @ place.pose.matrix)

    def move(self, arm: str, motion: Motion) -> None:
        self.calls.append(("move", arm, motion))
        self.q[arm] = motion.q[-1]
        self.time += motion.duration

    def grip(self, arm: str, width: float, force: float) -> float:
        self.calls.append(("grip", arm, width, force))
        self.stands[arm] = self.widths.pop(0) if self.widths else self.width
        return self.stands[arm]

    def release(self, arm: str, width: float) -> None:
        self.calls.append(("release", arm, width))
        self.stands[arm] = width

    def guarded_move(
        self, arm: str, direction: Vec3, travel: float, overtravel: float, force: float, speed: float
    ) -> GuardedResult:
        self.calls.append(("guarded_move", arm, direction, travel, overtravel, force, speed))
        return self.touches.pop(0) if self.touches else self.touch

    def insert(
        self, arm: str, motion: Motion, force_limit: float, strategy: Strategy | None = None
    ) -> InsertResult:
        self.calls.append(("insert", arm, motion, force_limit))
        self.q[arm] = motion.q[-1]
        return self.insertions.pop(0) if self.insertions else self.insertion

    def drive(
        self,
        arm: str,
        motion: Motion,
        torque: float,
        turns: float,
        strategy: Strategy | None = None,
        until: Until = "torque",
    ) -> DriveResult:
        self.calls.append(("drive", arm, motion, torque, turns, until))
        self.q[arm] = motion.q[-1]
        return self.screw

    def turn(self, arm: str, angle: float) -> None:
        self.calls.append(("turn", arm, angle))

    def placed(self, item: str, region: str) -> None:
        self.calls.append(("placed", item, region))

    def zero_force(self, arm: str) -> None:
        self.calls.append(("zero_force", arm))

    def force(self, arm: str) -> Vec3:
        self.calls.append(("force", arm))
        return (0.0, 0.0, 0.1)

    def set_payload(self, arm: str, mass: float) -> None:
        self.calls.append(("set_payload", arm, mass))

    def digital_out(self, name: str, value: bool) -> None:
        self.calls.append(("digital_out", name, value))

    def digital_in(self, name: str) -> bool:
        self.calls.append(("digital_in", name))
        return self.retained

    def state(self, arm: str) -> ArmState:
        return ArmState(tuple(self.q[arm]), self.stands[arm])

    def clock(self) -> float:
        return self.time

    def pause(self, seconds: float) -> None:
        self.calls.append(("pause", seconds))
        self.time += seconds

    def asked(self, method: str) -> list[tuple[object, ...]]:
        """What was asked of one method, without its name."""
        return [c[1:] for c in self.calls if c[0] == method]
