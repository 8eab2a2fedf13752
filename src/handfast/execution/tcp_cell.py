"""A cell in another process, on the other end of a TCP connection.

A server that says nothing, says nonsense or goes away ends in a CellError that names it: whoever runs the
chart then stops. Nothing is sent twice, for a machine may have moved.
"""

from __future__ import annotations

import socket
from collections.abc import Mapping
from typing import Any

from handfast.execution.cell import (
    ArmState,
    CellError,
    DriveResult,
    GuardedResult,
    InsertResult,
    ObstructedError,
    Until,
)
from handfast.execution.cell_wire import LONGEST, PROTOCOL, VERSION, ended_of, line, packed, read, result_of
from handfast.execution.two_hands import Ended
from handfast.model.motion import Motion
from handfast.model.strategy import Strategy
from handfast.spatial.pose import Pose, Vec3

_GREETING = 5.0  # a server has to speak within this [s]


class LostCellError(CellError):
    """The connection is of no more use: what the machine does now is not known."""


class TcpCell:
    """Implements `execution.cell.Cell`, and `execution.two_hands.TwoHandCell` where the server can.
    patience: how long an answer may take beyond the motion asked for
    [s]."""

    def __init__(self, address: str, patience: float = 60.0) -> None:
        """address: "tcp://HOST:PORT". Raises CellError if no cell of this protocol answers there."""
        self._address, self._patience, self._number, self._rest = address, patience, 0, b""
        self._begun: dict[str, str] = {}
        host, port = _parsed(address)
        try:
            self._socket = socket.create_connection((host, port), _GREETING)
        except OSError as error:
            raise CellError(
                f"{address}: no cell answers: {error.strerror or error}; start one there"
            ) from error
        self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        try:
            self.name = self._greeted()
        except CellError:
            self._socket.close()
            raise

    def close(self) -> None:
        """End the connection."""
        self._socket.close()

    def _greeted(self) -> str:
        greeting = self._answer(_GREETING)
        found = (greeting.get("protocol"), greeting.get("version"))
        if found != (PROTOCOL, VERSION):
            raise LostCellError(
                f"{self._address}: expected a cell that speaks {PROTOCOL} {VERSION}, found {found[0]!r} "
                f"{found[1]!r}; use a server of that version"
            )
        self.two_hands = greeting.get("two_hands") is True
        return str(greeting.get("name", "unnamed"))

    def _ask(self, name: str, values: dict[str, Any], seconds: float = 0.0, begin: str = "") -> Any:
        self._number += 1
        request = {"id": self._number, "do": name, "with": packed(name, values)}
        message = line(request | ({"begin": begin} if begin else {}))
        try:
            self._socket.settimeout(self._patience)
            self._socket.sendall(message)
        except OSError as error:
            raise self._lost(f"it does not take {name!r}: {error.strerror or error}") from error
        answer = self._answer(self._patience + seconds)
        if answer.get("id") != self._number:
            raise self._lost(f"expected the answer to call {self._number}, found {str(answer)[:60]}")
        if "error" in answer:
            kind = ObstructedError if answer.get("kind") == "obstructed" else CellError
            raise kind(str(answer["error"])[:500])
        try:
            if begin:
                return None
            if name == "wait":
                return ended_of(answer.get("result"), self._begun)
            return result_of(name, answer.get("result"))
        except CellError as error:
            raise self._lost(f"it answers {name!r} with nonsense: {error}") from error

    def _answer(self, seconds: float) -> dict[str, Any]:
        self._socket.settimeout(seconds)
        while b"\n" not in self._rest:
            if len(self._rest) > LONGEST:
                raise self._lost(f"its line is longer than {LONGEST} bytes")
            try:
                more = self._socket.recv(1 << 16)
            except TimeoutError as error:
                raise self._lost(f"it has not answered for {seconds:.0f} s") from error
            except OSError as error:
                raise self._lost(f"the connection broke: {error.strerror or error}") from error
            if not more:
                found = f" in the middle of a line, after {self._rest[:40]!r}" if self._rest else ""
                raise self._lost(f"it closed the connection{found}")
            self._rest += more
        raw, _, self._rest = self._rest.partition(b"\n")
        try:
            return read(raw)
        except CellError as error:
            raise self._lost(f"it speaks nonsense: {error}") from error

    def _lost(self, why: str) -> LostCellError:
        self._socket.close()
        return LostCellError(
            f"{self._address}: {why}. What the machine does now is not known: stop it by its own stop, look, "
            "start its server again, then go on from where the log ends"
        )

    def locate(self, part: str, region: str) -> Pose | None:
        """As in the protocol."""
        found: Pose | None = self._ask("locate", {"part": part, "region": region})
        return found

    def move(self, arm: str, motion: Motion) -> None:
        """As in the protocol."""
        self._ask("move", {"arm": arm, "motion": motion}, motion.duration)

    def grip(self, arm: str, width: float, force: float) -> float:
        """As in the protocol."""
        return float(self._ask("grip", {"arm": arm, "width": width, "force": force}))

    def release(self, arm: str, width: float) -> None:
        """As in the protocol."""
        self._ask("release", {"arm": arm, "width": width})

    def guarded_move(
        self, arm: str, direction: Vec3, travel: float, overtravel: float, force: float, speed: float
    ) -> GuardedResult:
        """As in the protocol."""
        given = {"arm": arm, "direction": direction, "travel": travel, "overtravel": overtravel}
        given |= {"force": force, "speed": speed}
        seconds = 2 * (travel + overtravel) / speed
        found: GuardedResult = self._ask("guarded_move", given, seconds)
        return found

    def insert(
        self, arm: str, motion: Motion, force_limit: float, strategy: Strategy | None = None
    ) -> InsertResult:
        """As in the protocol."""
        given: dict[str, Any] = {"arm": arm, "motion": motion, "force_limit": force_limit}
        found: InsertResult = self._ask("insert", *_with(given, motion, strategy))
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
        found: DriveResult = self._ask("drive", *_with(given, motion, strategy))
        return found

    def turn(self, arm: str, angle: float) -> None:
        """As in the protocol."""
        self._ask("turn", {"arm": arm, "angle": angle}, abs(angle))

    def placed(self, item: str, region: str) -> None:
        """As in the protocol."""
        self._ask("placed", {"item": item, "region": region})

    def zero_force(self, arm: str) -> None:
        """As in the protocol."""
        self._ask("zero_force", {"arm": arm})

    def force(self, arm: str) -> Vec3:
        """As in the protocol."""
        found: Vec3 = self._ask("force", {"arm": arm})
        return found

    def set_payload(self, arm: str, mass: float) -> None:
        """As in the protocol."""
        self._ask("set_payload", {"arm": arm, "mass": mass})

    def digital_out(self, name: str, value: bool) -> None:
        """As in the protocol."""
        self._ask("digital_out", {"name": name, "value": value})

    def digital_in(self, name: str) -> bool:
        """As in the protocol."""
        return bool(self._ask("digital_in", {"name": name}))

    def state(self, arm: str) -> ArmState:
        """As in the protocol."""
        found: ArmState = self._ask("state", {"arm": arm})
        return found

    def clock(self) -> float:
        """As in the protocol."""
        return float(self._ask("clock", {}))

    def pause(self, seconds: float) -> None:
        """As in the protocol."""
        self._ask("pause", {"seconds": seconds}, seconds)

    def begin(self, arm: str, name: str, given: Mapping[str, Any]) -> None:
        """As in the protocol of both hands."""
        self._ask(name, dict(given), begin=arm)
        self._begun[arm] = name

    def wait(self, seconds: float) -> tuple[Ended, ...]:
        """As in the protocol of both hands."""
        found: tuple[Ended, ...] = self._ask("wait", {"seconds": seconds}, seconds)
        return found

    def jaws(self, arm: str, width: float) -> None:
        """As in the protocol of both hands."""
        self._ask("jaws", {"arm": arm, "width": width})

    def halt(self) -> None:
        """As in the protocol of both hands."""
        self._ask("halt", {})


def _with(given: dict[str, Any], motion: Motion, strategy: Strategy | None) -> tuple[dict[str, Any], float]:
    """The arguments, with a strategy where there is one, and how long it all takes at most [s]."""
    if strategy is None:
        return given, motion.duration
    return {**given, "strategy": strategy}, motion.duration + strategy.seconds


def _parsed(address: str) -> tuple[str, int]:
    host, colon, port = address.removeprefix("tcp://").rpartition(":")
    if not address.startswith("tcp://") or not colon or not host or not port.isdigit() or int(port) > 65535:
        raise CellError(f"{address}: expected tcp://HOST:PORT, such as tcp://127.0.0.1:7010")
    return host, int(port)
