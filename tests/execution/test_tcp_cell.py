"""A cell over TCP: the same as without the wire, and a clear stop whatever the other end does."""

from __future__ import annotations

import contextlib
import json
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from tests.execution.scripted_cell import ScriptedCell
from tests.execution.served_cell import served
from tests.trials.bench_chart import GRASP, bench_chart, bench_project, ledger

from handfast.execution.cell import CellError, GuardedResult, ObstructedError
from handfast.execution.cell_wire import CALLS, LONGEST
from handfast.execution.executor import execute
from handfast.execution.serve_cell import answered
from handfast.execution.tcp_cell import LostCellError, TcpCell
from handfast.kinematics.chain import load_chain
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.model.strategy import Spiral
from handfast.trials.draw import Draws
from handfast.trials.simulated_cell import SimulatedCell

GREETING = b'{"protocol":"handfast-cell","version":1,"name":"hostile"}\n'
Server = Callable[[socket.socket], None]


@contextmanager
def hostile(behave: Server) -> Iterator[str]:
    """A server that does as told with one client."""
    with socket.create_server(("127.0.0.1", 0)) as listening:

        def run() -> None:
            client, _ = listening.accept()
            with client, contextlib.suppress(OSError):  # the client has gone, as it should
                behave(client)

        thread = threading.Thread(target=run, daemon=True)
        thread.start()
        yield f"tcp://127.0.0.1:{listening.getsockname()[1]}"
        thread.join(5)
        assert not thread.is_alive()


def greets_then(*answers: bytes) -> Server:
    """Greets, then answers each request with raw bytes, then closes."""

    def behave(client: socket.socket) -> None:
        client.sendall(GREETING)
        with client.makefile("rb") as asked:
            for answer in answers:
                asked.readline()
                client.sendall(answer)

    return behave


@pytest.fixture(scope="module")
def project() -> Project:
    return bench_project()


def simulated(project: Project) -> SimulatedCell:
    chains = {a.name: load_chain(a, project.folder) for a in project.cell.arms}
    return SimulatedCell(project, chains, Draws(project.errors, 7, 0), (GRASP,))


def test_a_run_over_the_wire_is_the_run_without(project: Project) -> None:
    chart = bench_chart(project)
    here = execute(project, chart, ledger(), simulated(project))
    with served(simulated(project)) as address:
        cell = TcpCell(address)
        there = execute(project, chart, ledger(), cell)
        cell.close()
    assert here.ended == "done"
    assert there == here


def test_every_call_of_the_protocol_goes_over_the_wire(project: Project) -> None:
    motion = bench_chart(project).elements[0].motions[0]
    spiral = Spiral(radius=1e-3, pitch=0.5e-3, speed=5e-3, force=5.0, drop=0.5e-3, rest=1e-3)
    scripted = ScriptedCell(project)
    with served(scripted) as address:
        cell = TcpCell(address)
        assert cell.name == "scripted"
        assert cell.locate("pin", "place.tray.pin") is not None
        cell.move("right", motion)
        assert cell.grip("right", 0.008, 90.0) == 0.008
        assert cell.guarded_move("right", (1.0, 0.0, 0.0), 0.004, 0.003, 3.0, 0.005) == GuardedResult(
            True, 0.004
        )
        assert cell.insert("right", motion, 50.0).ok
        assert cell.insert("right", motion, 50.0, spiral).ok
        assert cell.drive("right", motion, 1.8, 50.0).ok
        assert cell.drive("right", motion, 1.8, 50.0, spiral).ok
        cell.turn("right", 1.57)
        cell.placed("ball", "stand.ball.front")
        cell.release("right", 0.02)
        cell.zero_force("right")
        assert cell.force("right") == (0.0, 0.0, 0.1)
        cell.set_payload("right", 0.1)
        cell.digital_out("driver.retain", True)
        assert cell.digital_in("driver.retained") is True
        assert cell.state("right").q == motion.q[-1]
        cell.pause(0.5)
        assert cell.clock() > 0.5
        with pytest.raises(CellError, match="found too few"):
            cell._ask("locate", {})  # the server says what is missing
        cell.close()
    asked = {str(c[0]) for c in scripted.calls}
    assert asked >= set(CALLS) - {"state", "clock", "wait", "jaws", "halt"}  # those: test_both_hands.py
    assert ("move", "right", motion) in scripted.calls


SILENT = 0.4


def test_an_arm_that_was_stopped_stays_an_obstruction(project: Project) -> None:
    class Snagged(ScriptedCell):
        def move(self, arm: str, motion: Motion) -> None:
            raise ObstructedError("met 60 N")

    with served(Snagged(project)) as address:
        cell = TcpCell(address)
        with pytest.raises(ObstructedError, match="met 60 N"):
            cell.move("right", bench_chart(project).elements[0].motions[0])
        cell.close()


@pytest.mark.parametrize(
    ("greeting", "expected"),
    [
        (b"", "closed the connection"),
        (b"SSH-2.0-hello\r\n", "speaks nonsense"),
        (b'{"protocol":"handfast-cell","ver', "in the middle of a line"),
        (
            b'{"protocol":"handfast-cell","version":2,"name":"x"}\n',
            "expected a cell that speaks handfast-cell 1",
        ),
        (b"[1, 2]\n", "expected a JSON object"),
        (b"\xff\xfe\x00\n", "expected a JSON object"),
        (b"[" * 100_000 + b"\n", "expected a JSON object"),
    ],
)
def test_what_is_no_cell_is_told_at_once(greeting: bytes, expected: str) -> None:
    with (
        hostile(lambda client: client.sendall(greeting)) as address,
        pytest.raises(CellError, match=expected),
    ):
        TcpCell(address)


@pytest.mark.parametrize(
    ("answer", "expected"),
    [
        (b"garbage\n", "speaks nonsense"),
        (b'{"id":1,"result":', "in the middle of a line"),
        (b"", "closed the connection"),
        (b'{"id":7,"result":0.008}\n', "expected the answer to call 1"),
        (b'{"id":1,"result":"wide"}\n', "answers 'grip' with nonsense"),
        (b'{"id":1,"result":NaN}\n', "speaks nonsense"),
        (b'{"id":1,"result":1e999}\n', "answers 'grip' with nonsense"),
        (b'{"id":1}\n', "answers 'grip' with nonsense"),
    ],
)
def test_answers_that_are_none_end_the_connection(answer: bytes, expected: str) -> None:
    with hostile(greets_then(answer)) as address:
        cell = TcpCell(address)
        with pytest.raises(LostCellError, match=expected) as lost:
            cell.grip("left", 0.008, 90.0)
        assert "stop it by its own stop" in str(lost.value)
        with pytest.raises(LostCellError):  # and nothing more is sent
            cell.grip("left", 0.008, 90.0)


def test_silence_ends_the_connection() -> None:
    done = threading.Event()

    def mute(client: socket.socket) -> None:
        client.sendall(GREETING)
        done.wait(5)

    with hostile(mute) as address:
        cell = TcpCell(address, patience=SILENT)
        with pytest.raises(LostCellError, match="has not answered"):
            cell.clock()
        done.set()


def test_a_line_without_end_is_not_taken_in() -> None:
    def flood(client: socket.socket) -> None:
        client.sendall(GREETING)
        while True:
            client.sendall(b"x" * (1 << 20))

    with hostile(flood) as address:
        cell = TcpCell(address)
        with pytest.raises(LostCellError, match=f"longer than {LONGEST} bytes"):
            cell.clock()


def test_nobody_there_and_addresses_that_are_none() -> None:
    with socket.create_server(("127.0.0.1", 0)) as listening:
        port = listening.getsockname()[1]
    with pytest.raises(CellError, match="no cell answers"):
        TcpCell(f"tcp://127.0.0.1:{port}")
    for address in ("tcp://", "tcp://host", "tcp://host:x", "tcp://host:99999", "udp://host:1"):
        with pytest.raises(CellError, match=r"expected tcp://HOST:PORT"):
            TcpCell(address)


def test_a_server_that_dies_on_the_way_stops_the_run_and_the_log_says_where(project: Project) -> None:
    class Dying(SimulatedCell):
        def grip(self, arm: str, width: float, force: float) -> float:
            raise ConnectionResetError

    chains = {a.name: load_chain(a, project.folder) for a in project.cell.arms}
    with served(Dying(project, chains, Draws((), 7, 0), (GRASP,))) as address:
        log = execute(project, bench_chart(project), None, TcpCell(address), recover=True)
    assert (log.ended, log.cause) == ("stopped", "cell")
    assert "element pin-in-bore/02-grasp-right: " in log.reason
    assert "go on from where the log ends" in log.reason
    assert [ln.element[-14:] for ln in log.lines if ln.event == "done"] == ["01-reach-right"]


def test_the_server_answers_nonsense_with_an_error(project: Project) -> None:
    cell = ScriptedCell(project)
    for raw, expected in (
        (b"nonsense\n", "JSON object"),
        (b'{"id":1,"do":"fly","with":{}}\n', "expected one of"),
        (b'{"id":1,"do":"__init__","with":{}}\n', "expected one of"),
        (b'{"id":1,"do":"grip","with":{"arm":"left","width":"wide","force":1.0}}\n', "grip"),
        (b'{"id":1,"do":"grip","with":{"arm":"left"}}\n', "too few"),
        (b'{"id":1,"do":"grip","with":{"arm":"left","width":1.0,"force":1.0,"speed":1.0}}\n', "found speed"),
        (b'{"id":1,"do":"grip"}\n', "with its arguments"),
    ):
        answer = answered(cell, raw)
        assert expected in answer["error"], raw
        json.dumps(answer)
    assert cell.calls == []
