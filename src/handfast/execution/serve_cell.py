"""Any cell behind a TCP port: the reference server of the protocol (docs/cell-protocol.md)."""

from __future__ import annotations

import contextlib
import socket
from collections.abc import Callable
from typing import Any

from handfast.execution.cell import Cell, CellError, ObstructedError
from handfast.execution.cell_wire import CALLS, LONGEST, PROTOCOL, VERSION, line, read, unpacked
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
    client.sendall(line({"protocol": PROTOCOL, "version": VERSION, "name": cell.name}))
    with client.makefile("rb") as asked:
        while raw := asked.readline(LONGEST + 1):
            if not raw.endswith(b"\n"):
                client.sendall(line({"id": None, "error": f"a line of more than {LONGEST} bytes, or cut off",
                                     "kind": "cell"}))  # fmt: skip
                return
            client.sendall(line(answered(cell, raw)))


def answered(cell: Cell, raw: bytes) -> dict[str, Any]:
    """The answer to one request; what cannot be done is an answer too."""
    number: Any = None
    try:
        request = read(raw)
        number, name = request.get("id"), str(request.get("do"))
        given = unpacked(name, request.get("with"))
        result = getattr(cell, name)(**given)
        kind = CALLS[name].result
        return {"id": number, "result": None if result is None else to_json(result, kind, name)}
    except ObstructedError as error:
        return {"id": number, "error": str(error), "kind": "obstructed"}
    except TypeError as error:  # an argument is missing
        return {"id": number, "error": f"expected all arguments, found too few: {error}", "kind": "cell"}
    except CellError as error:
        return {"id": number, "error": str(error), "kind": "cell"}
