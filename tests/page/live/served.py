"""The page's server on a free port of this machine, and requests as raw as curl's."""

from __future__ import annotations

import http.client
import json
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import uvicorn

from handfast.page.live.app import make_app
from handfast.page.live.board import Board
from handfast.page.live.guard import Guard
from handfast.page.live.serve import bound, hosts
from handfast.page.live.workers import Live

SHEET = b'{"no_plan":null}'


class Served:
    """One server. board: what it shows; asked(): one request, nothing added to its headers but the Host."""

    def __init__(self, port: int, board: Board) -> None:
        self.port, self.board = port, board

    def asked(
        self, path: str, method: str = "GET", body: Any = None, **headers: str | None
    ) -> tuple[int, str, http.client.HTTPMessage]:
        """Status, text and headers. A header of None is left out; names with _ for -."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        given: dict[str, str | None] = {"Host": f"127.0.0.1:{self.port}"}
        given |= {} if body is None else self.own()
        given |= {k.replace("_", "-").title(): v for k, v in headers.items()}
        data = None if body is None else json.dumps(body).encode()
        connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        for name, value in given.items():
            if value is not None:
                connection.putheader(name, value)
        if data is not None:
            connection.putheader("Content-Length", str(len(data)))
        connection.endheaders(data)
        answer = connection.getresponse()
        text = answer.read().decode("utf-8", "replace")
        connection.close()
        return answer.status, text, answer.headers

    def own(self) -> dict[str, str]:
        """What this page's own script sends along."""
        return {"Origin": f"http://127.0.0.1:{self.port}", "Content-Type": "application/json"}


@contextmanager
def serving(folder: Path, out: Path, *, host: str | None = None, token: str = "") -> Iterator[Served]:
    """Without its workers: nothing is planned here."""
    with bound("127.0.0.1", 0) as where:
        port = where.getsockname()[1]
        board = Board(SHEET, b"glTF")
        app = make_app(folder, board, Live(folder, out, 0, board), Guard(hosts(host, port), token))
        server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [where]}, daemon=True)
        thread.start()
        until = time.monotonic() + 10
        while not server.started and time.monotonic() < until:
            time.sleep(0.01)
        assert server.started
        yield Served(port, board)
        server.should_exit = server.force_exit = True
        thread.join(10)
