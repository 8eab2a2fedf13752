"""The calls of a cell, each as its name and arguments, for whoever passes them on."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import Any

from handfast.execution.cell import ArmState, DriveResult, GuardedResult, InsertResult, Until
from handfast.model.motion import Motion
from handfast.model.strategy import Strategy
from handfast.spatial.pose import Pose, Vec3


class CellCalls(ABC):
    """Implements `execution.cell.Cell` but for its name, by one method that is told what is called."""

    @abstractmethod
    def _call(self, name: str, given: dict[str, Any]) -> Any:
        """What the call `name` of the protocol answers; given: its arguments, those left out that are the
        protocol's defaults. Raises CellError."""

    def locate(self, part: str, region: str) -> Pose | None:
        """As in the protocol."""
        found: Pose | None = self._call("locate", {"part": part, "region": region})
        return found

    def move(self, arm: str, motion: Motion) -> None:
        """As in the protocol."""
        self._call("move", {"arm": arm, "motion": motion})

    def grip(self, arm: str, width: float, force: float) -> float:
        """As in the protocol."""
        return float(self._call("grip", {"arm": arm, "width": width, "force": force}))

    def release(self, arm: str, width: float) -> None:
        """As in the protocol."""
        self._call("release", {"arm": arm, "width": width})

    def guarded_move(
        self, arm: str, direction: Vec3, travel: float, overtravel: float, force: float, speed: float
    ) -> GuardedResult:
        """As in the protocol."""
        given = {"arm": arm, "direction": direction, "travel": travel, "overtravel": overtravel}
        found: GuardedResult = self._call("guarded_move", {**given, "force": force, "speed": speed})
        return found

    def insert(
        self, arm: str, motion: Motion, force_limit: float, strategy: Strategy | None = None
    ) -> InsertResult:
        """As in the protocol."""
        given: dict[str, Any] = {"arm": arm, "motion": motion, "force_limit": force_limit}
        found: InsertResult = self._call("insert", _with(given, strategy))
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
        given: dict[str, Any] = {"arm": arm, "motion": motion, "torque": torque, "turns": turns}
        if until != "torque":
            given["until"] = until
        found: DriveResult = self._call("drive", _with(given, strategy))
        return found

    def turn(self, arm: str, angle: float) -> None:
        """As in the protocol."""
        self._call("turn", {"arm": arm, "angle": angle})

    def placed(self, item: str, region: str) -> None:
        """As in the protocol."""
        self._call("placed", {"item": item, "region": region})

    def zero_force(self, arm: str) -> None:
        """As in the protocol."""
        self._call("zero_force", {"arm": arm})

    def force(self, arm: str) -> Vec3:
        """As in the protocol."""
        found: Vec3 = self._call("force", {"arm": arm})
        return found

    def set_payload(self, arm: str, mass: float) -> None:
        """As in the protocol."""
        self._call("set_payload", {"arm": arm, "mass": mass})

    def digital_out(self, name: str, value: bool) -> None:
        """As in the protocol."""
        self._call("digital_out", {"name": name, "value": value})

    def digital_in(self, name: str) -> bool:
        """As in the protocol."""
        return bool(self._call("digital_in", {"name": name}))

    def state(self, arm: str) -> ArmState:
        """As in the protocol."""
        found: ArmState = self._call("state", {"arm": arm})
        return found

    def clock(self) -> float:
        """As in the protocol."""
        return float(self._call("clock", {}))

    def pause(self, seconds: float) -> None:
        """As in the protocol."""
        self._call("pause", {"seconds": seconds})


def _with(given: dict[str, Any], strategy: Strategy | None) -> dict[str, Any]:
    return given if strategy is None else {**given, "strategy": strategy}
