"""The cell as an element sees it whose hand works beside another."""

from __future__ import annotations

from typing import Any

from handfast.execution.cell import ArmState, DriveResult, GuardedResult, InsertResult, Until
from handfast.execution.going import Going
from handfast.execution.turns import Asked
from handfast.execution.two_hands import TwoHandCell
from handfast.model.motion import Motion
from handfast.model.strategy import Strategy
from handfast.spatial.pose import Pose, Vec3

ALONE, IN_STEP = "alone", "in step"
_EARLY = 1e-6  # a motion that would begin earlier than this waits for its time [s]


class HandCell:
    """Implements `execution.cell.Cell`: what takes time is begun, and other hands go on meanwhile. Motions
    begin no sooner in their element than the chart has it. going: the elements on their way, by hand; now:
    the hand that is asking, None where one hand works alone."""

    def __init__(self, cell: TwoHandCell, going: dict[str, Going]) -> None:
        self._cell, self._going = cell, going
        self.now: str | None = None

    @property
    def name(self) -> str:
        """As in the protocol."""
        return self._cell.name

    def alone(self) -> None:
        """Until the other hand has ended what it is at; it begins nothing more until this element is over."""
        if self.now is not None:
            self._asked(ALONE, {})

    def in_step(self) -> None:
        """Of an element whose motions take longer than the chart has them: until that brings nobody out of
        step."""
        if self.now is not None:
            self._asked(IN_STEP, {})

    def jaws(self, arm: str, width: float) -> None:
        """Empty jaws begin to go to a width [m], while the arm goes on."""
        self._cell.jaws(arm, width)

    def _asked(self, name: str, given: dict[str, Any]) -> Any:
        if self.now is None:
            return getattr(self._cell, name)(**given)
        return self._going[self.now].turn.ask(Asked(name, given))

    def _in_time(self, motion: Motion) -> None:
        """Wait until the chart has this motion begin."""
        if self.now is None:
            return
        early = self._going[self.now].due(motion) - self._cell.clock()
        if early > _EARLY:
            self._asked("pause", {"seconds": early})

    def locate(self, part: str, region: str) -> Pose | None:
        """As in the protocol."""
        return self._cell.locate(part, region)

    def move(self, arm: str, motion: Motion) -> None:
        """As in the protocol."""
        self._in_time(motion)
        self._asked("move", {"arm": arm, "motion": motion})

    def grip(self, arm: str, width: float, force: float) -> float:
        """As in the protocol."""
        return float(self._asked("grip", {"arm": arm, "width": width, "force": force}))

    def release(self, arm: str, width: float) -> None:
        """As in the protocol."""
        self._asked("release", {"arm": arm, "width": width})

    def guarded_move(
        self, arm: str, direction: Vec3, travel: float, overtravel: float, force: float, speed: float
    ) -> GuardedResult:
        """As in the protocol."""
        given = {"arm": arm, "direction": direction, "travel": travel, "overtravel": overtravel}
        found: GuardedResult = self._asked("guarded_move", {**given, "force": force, "speed": speed})
        return found

    def insert(
        self, arm: str, motion: Motion, force_limit: float, strategy: Strategy | None = None
    ) -> InsertResult:
        """As in the protocol."""
        self._in_time(motion)
        given: dict[str, Any] = {"arm": arm, "motion": motion, "force_limit": force_limit}
        found: InsertResult = self._asked("insert", _with(given, strategy))
        return found

    def drive(
        self,
        arm: str,
        motion: Motion,
        torque: float,
        turns: float,
        strategy: Strategy | None = None,
        until: Until = "torque",
    ) -> DriveResult:
        """As in the protocol."""
        self._in_time(motion)
        given: dict[str, Any] = {"arm": arm, "motion": motion, "torque": torque, "turns": turns}
        if until != "torque":
            given["until"] = until
        found: DriveResult = self._asked("drive", _with(given, strategy))
        return found

    def turn(self, arm: str, angle: float) -> None:
        """As in the protocol."""
        self._cell.turn(arm, angle)

    def placed(self, item: str, region: str) -> None:
        """As in the protocol."""
        self._cell.placed(item, region)

    def zero_force(self, arm: str) -> None:
        """As in the protocol."""
        self._cell.zero_force(arm)

    def force(self, arm: str) -> Vec3:
        """As in the protocol."""
        return self._cell.force(arm)

    def set_payload(self, arm: str, mass: float) -> None:
        """As in the protocol."""
        self._cell.set_payload(arm, mass)

    def digital_out(self, name: str, value: bool) -> None:
        """As in the protocol."""
        self._cell.digital_out(name, value)

    def digital_in(self, name: str) -> bool:
        """As in the protocol."""
        return self._cell.digital_in(name)

    def state(self, arm: str) -> ArmState:
        """As in the protocol."""
        return self._cell.state(arm)

    def clock(self) -> float:
        """As in the protocol."""
        return self._cell.clock()

    def pause(self, seconds: float) -> None:
        """As in the protocol."""
        self._asked("pause", {"seconds": seconds})


def _with(given: dict[str, Any], strategy: Strategy | None) -> dict[str, Any]:
    return given if strategy is None else {**given, "strategy": strategy}
