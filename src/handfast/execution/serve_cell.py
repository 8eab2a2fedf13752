"""Any cell behind a TCP port: the reference server of the protocol (docs/cell-protocol.md)."""

from __future__ import annotations

import contextlib
import socket
from collections.abc import Callable
from typing import Any

from handfast.execution.cell import Cell, CellError, ObstructedError
from handfast.execution.cell_wire import CALLS, LONGEST, PROTOCOL, VERSION, line, read, told, unpacked
from handfast.execution.two_hands import with_two_hands
from handfast.files.typed_json import to_json


def serve(cell: Cell, host: str, port: int, ready: Callable[[int], None], connections: int = 0) -> None:
    """Answer one client after another; what they do to the cell stays done.

    ready: told the port, once clients may come (port 0: any that is free); connections: how many before it
    ends, 0: until it is interrupted. Only one client at a time moves a cell. Raises OSError if the port is
    taken.
    """
    with socket.create_server((host, port), backlog=1) as listening:
        ready(listening.getsockname()[1])
        served = 0
        while connections == 0 or served < connections:
            client, _ = listening.accept()
            with client, contextlib.suppress(ConnectionError):
                _answer(cell, client)
            served += 1


def _answer(cell: Cell, client: socket.socket) -> None:
    client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    greeting = {"protocol": PROTOCOL, "version": VERSION, "name": cell.name}
    client.sendall(line(greeting | ({"two_hands": True} if with_two_hands(cell) is not None else {})))
    begun: dict[str, str] = {}
    with client.makefile("rb") as asked:
        while raw := asked.readline(LONGEST + 1):
            if not raw.endswith(b"\n"):
                client.sendall(line({"id": None, "error": f"a line of more than {LONGEST} bytes, or cut off",
                                     "kind": "cell"}))  # fmt: skip
                return
            client.sendall(line(answered(cell, raw, begun)))


def answered(cell: Cell, raw: bytes, begun: dict[str, str] | None = None) -> dict[str, Any]:
    """The answer to one request; what cannot be done is an answer too. begun: what each arm is at."""
    number: Any = None
    try:
        request = read(raw)
        number, name = request.get("id"), str(request.get("do"))
        given = unpacked(name, request.get("with"))
        if "begin" in request or name in ("wait", "jaws", "halt"):
            arm = request.get("begin")
            return {"id": number, "result": _both(cell, name, given, arm, {} if begun is None else begun)}
        result = getattr(cell, name)(**given)
        kind = CALLS[name].result
        return {"id": number, "result": None if result is None else to_json(result, kind, name)}
    except ObstructedError as error:
        return {"id": number, "error": str(error), "kind": "obstructed"}
    except TypeError as error:  # an argument is missing
        return {"id": number, "error": f"expected all arguments, found too few: {error}", "kind": "cell"}
    except CellError as error:
        return {"id": number, "error": str(error), "kind": "cell"}


def _both(cell: Cell, name: str, given: dict[str, Any], arm: Any, begun: dict[str, str]) -> Any:
    """What only a cell can do that moves both arms at the same time. Raises CellError."""
    two = with_two_hands(cell)
    if two is None:
        raise CellError("this cell moves one arm at a time; ask without begin")
    if arm is not None:
        two.begin(str(arm), name, given)
        begun[str(arm)] = name
        return None
    if name == "wait":
        return told(two.wait(given["seconds"]), begun)
    getattr(two, name)(**given)
    return None
