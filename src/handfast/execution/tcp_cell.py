"""A cell in another process, on the other end of a TCP connection.

A server that says nothing, says nonsense or goes away ends in a CellError that names it: whoever runs the
chart then stops. Nothing is sent twice, for a machine may have moved.
"""

from __future__ import annotations

import socket
from collections.abc import Mapping
from typing import Any

from handfast.execution.cell import CellError, ObstructedError
from handfast.execution.cell_calls import CellCalls
from handfast.execution.cell_wire import LONGEST, PROTOCOL, VERSION, ended_of, line, packed, read, result_of
from handfast.execution.two_hands import Ended

_GREETING = 5.0  # a server has to speak within this [s]


class LostCellError(CellError):
    """The connection is of no more use: what the machine does now is not known."""


class TcpCell(CellCalls):
    """Implements `execution.cell.Cell`, and `execution.two_hands.TwoHandCell` where the server can.
    patience: how long an answer may take beyond the motion asked for [s]."""

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

    def _call(self, name: str, given: dict[str, Any]) -> Any:
        return self._ask(name, given, _lasts(given))

    def begin(self, arm: str, name: str, given: Mapping[str, Any]) -> None:
        """As in the protocol of both hands."""
        self._ask(name, dict(given), begin=arm)
        self._begun[arm] = name

    def wait(self, seconds: float) -> tuple[Ended, ...]:
        """As in the protocol of both hands."""
        found: tuple[Ended, ...] = self._call("wait", {"seconds": seconds})
        return found

    def jaws(self, arm: str, width: float) -> None:
        """As in the protocol of both hands."""
        self._ask("jaws", {"arm": arm, "width": width})

    def halt(self) -> None:
        """As in the protocol of both hands."""
        self._ask("halt", {})


def _lasts(given: Mapping[str, Any]) -> float:
    """How long what is asked for takes at most [s]: an answer may take that much longer."""
    motion, strategy = given.get("motion"), given.get("strategy")
    seconds = (motion.duration if motion is not None else 0.0) + (strategy.seconds if strategy else 0.0)
    if "overtravel" in given:  # and back
        seconds += 2 * (given["travel"] + given["overtravel"]) / given["speed"]
    return float(seconds + given.get("seconds", 0.0) + abs(given.get("angle", 0.0)))


def _parsed(address: str) -> tuple[str, int]:
    host, colon, port = address.removeprefix("tcp://").rpartition(":")
    if not address.startswith("tcp://") or not colon or not host or not port.isdigit() or int(port) > 65535:
        raise CellError(f"{address}: expected tcp://HOST:PORT, such as tcp://127.0.0.1:7010")
    return host, int(port)
